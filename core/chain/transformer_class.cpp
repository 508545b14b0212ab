#include "core/chain/transformer_class.hpp"

#include <algorithm>
#include <cmath>

namespace phasewright::chain {

namespace {
constexpr double slack = 1e-9;

std::string small(std::string_view text) {
    std::string all;
    for (char const c : text) all += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    return all;
}

std::vector<std::string> parts_of(std::string_view text) {
    std::vector<std::string> parts(1);
    for (char const c : text) {
        if (c == ' ' || c == '\t' || c == '/') {
            if (!parts.back().empty()) parts.emplace_back();
        } else {
            parts.back() += c == ',' ? '.' : c;
        }
    }
    if (parts.back().empty()) parts.pop_back();
    return parts;
}

std::string upper_s(std::string word) {
    for (char& c : word)
        if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
    return word;
}

// How far from the lower point to the upper one.
double way_between(double low, double high, double at, Interpolation between) {
    switch (between) {
        case Interpolation::lower_point: return 0.0;
        case Interpolation::logarithm: return std::log(at / low) / std::log(high / low);
        case Interpolation::straight: break;
    }
    return (at - low) / (high - low);
}

bool is_weaker(plan::Footing one, plan::Footing other) {
    return static_cast<int>(one) > static_cast<int>(other);
}

NotStated burden_state(TransformerClass const& of, AtLoad const& load) {
    if (!load.burden_va || !load.rated_va) return NotStated::stated;
    auto const range = burden_range(of, *load.rated_va);
    if (*load.burden_va < range.least_va * (1.0 - slack)) return NotStated::under_burden;
    if (*load.burden_va > range.most_va * (1.0 + slack)) return NotStated::over_burden;
    return NotStated::stated;
}

void take(TransformerLimits& limits, ClassPoint const& point) {
    limits.ratio_percent = point.ratio_percent;
    limits.phase_min = point.phase_min;
    limits.source.footing = point.footing;
}
}  // namespace

std::string_view words_of(NotStated why) {
    switch (why) {
        case NotStated::stated: return "stated";
        case NotStated::no_class: return "no class is known";
        case NotStated::below_lowest: return "the class says nothing below its lowest listed point";
        case NotStated::above_highest: return "the class says nothing above its highest listed point";
        case NotStated::under_burden: return "the burden is below the range that the class holds for";
        case NotStated::over_burden: return "the burden is above the range that the class holds for";
        case NotStated::no_phase_limit: return "the class has no limit of the phase displacement";
        case NotStated::outside_its_factors:
            return "the class says nothing at this current with this power factor or temperature";
    }
    return "";
}

BurdenRange burden_range(TransformerClass const& of, double rated_va) {
    double const least = std::max(of.least_burden_share * rated_va, of.least_burden_va);
    double const most = of.most_burden_share * rated_va;
    return {std::min(least, most), most};
}

TransformerLimits limits_at(TransformerClass const& of, AtLoad const& load, Interpolation between) {
    TransformerLimits limits{.shape = of.shape, .source = of.source};
    double const percent = 100.0 * load.share_of_rated;
    if (of.points.empty() || percent < of.points.front().percent * (1.0 - slack)) {
        limits.why = of.points.empty() ? NotStated::no_class : NotStated::below_lowest;
        return limits;
    }
    double highest = of.points.back().percent;
    if (of.stretches && load.most_percent) highest = std::max(highest, *load.most_percent);
    if (percent > highest * (1.0 + slack)) {
        limits.why = NotStated::above_highest;
        return limits;
    }
    limits.why = burden_state(of, load);
    if (limits.why != NotStated::stated) return limits;
    limits.burden_held = load.burden_va && load.rated_va;
    auto const upper = std::ranges::find_if(
        of.points, [&](ClassPoint const& point) { return point.percent >= percent * (1.0 - slack); });
    if (upper == of.points.end()) {
        take(limits, of.points.back());
    } else if (upper == of.points.begin() || std::abs(upper->percent - percent) <= slack * percent) {
        take(limits, *upper);
    } else {
        auto const& low = *(upper - 1);
        double const way = way_between(low.percent, upper->percent, percent, between);
        take(limits, is_weaker(low.footing, upper->footing) ? low : *upper);
        limits.ratio_percent = std::lerp(low.ratio_percent, upper->ratio_percent, way);
        limits.phase_min.reset();
        if (low.phase_min && upper->phase_min)
            limits.phase_min = std::lerp(*low.phase_min, *upper->phase_min, way);
        limits.between_points =
            low.ratio_percent != upper->ratio_percent || low.phase_min != upper->phase_min;
    }
    if (limits.shape == LimitShape::separate && !limits.phase_min) limits.why = NotStated::no_phase_limit;
    return limits;
}

WrittenClass written_class(std::string_view text) {
    WrittenClass written;
    for (auto const& part : parts_of(text)) {
        auto plain = small(part);
        for (std::string_view const start : {"class", "cl."})
            if (plain.starts_with(start)) plain.erase(0, start.size());
        if (plain.empty() || plain == "cl") continue;
        bool const is_burden = plain.size() > 2 && plain[1] == '-' && (plain[0] == 'b' || plain[0] == 'e');
        if (plain == "s" && !written.word.empty() && !written.word.ends_with('S')) {
            written.word += 'S';
            continue;
        }
        auto& into = is_burden ? written.burden : written.word;
        if (into.empty()) into = upper_s(plain);
    }
    return written;
}

}  // namespace phasewright::chain
