#include "core/diagnosis/observed.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "core/diagnosis/class_angle.hpp"
#include "core/diagnosis/lag_variants.hpp"
#include "core/quantity/angle.hpp"

namespace phasewright::diagnosis {

namespace {
using readings::Column;
using readings::ReadingSet;
using readings::Snapshot;

std::optional<double> entry(Column const& column, std::size_t k) {
    return k < column.size() ? column[k] : std::optional<double>{};
}

quantity::TransformerRatio ratio_at(std::vector<quantity::TransformerRatio> const& ratios, std::size_t k) {
    if (ratios.empty()) return {1.0, 1.0};
    return ratios[std::min(k, ratios.size() - 1)];
}

// Factors that bring a reading to the primary side. What was sent as secondary never saw the programmed ratio.
struct Scale {
    double v = 1.0, i = 1.0;
    double power_sign = 1.0;
};
Scale scale_of(ReadingSet const& set, std::size_t element) {
    Scale scale;
    scale.power_sign = set.positive_to_grid ? -1.0 : 1.0;
    if (set.side == quantity::Side::primary) return scale;
    auto const ct = ratio_at(set.ct_planned, element);
    // A voltage output is sent as amperes of a 5 A secondary only by meters that say so; its own unit has no factor.
    if (!set.ct_planned.empty()) scale.i = ct.factor();
    if (!set.vt_planned.empty()) scale.v = ratio_at(set.vt_planned, element).factor();
    return scale;
}

std::optional<double> times(std::optional<double> value, double factor) {
    if (!value) return std::nullopt;
    return *value * factor;
}

PowerWords words_of(ReadingSet const& set, Snapshot const& snapshot, std::size_t k) {
    auto const scale = scale_of(set, k);
    double const power = scale.v * scale.i * scale.power_sign;
    PowerWords words;
    words.v = times(entry(snapshot.v, k), scale.v);
    words.i = times(entry(snapshot.i, k), scale.i);
    words.p = times(entry(snapshot.p, k), power);
    words.q = times(entry(snapshot.q, k), power);
    words.pf = entry(snapshot.pf, k);
    auto const v_angle = entry(snapshot.v_angle, k);
    auto const i_angle = entry(snapshot.i_angle, k);
    if (v_angle && i_angle) words.lag_from_angles_deg = quantity::wrapped_deg(*v_angle - *i_angle);
    return words;
}

std::optional<double> mean_over(ReadingSet const& set, Column Snapshot::* column, std::size_t k, double factor) {
    double sum = 0.0;
    double count = 0.0;
    for (auto const& snapshot : set.snapshots)
        if (auto const value = entry(snapshot.*column, k)) {
            sum += *value * factor;
            count += 1.0;
        }
    if (count == 0.0) return std::nullopt;
    return sum / count;
}

std::optional<double> mean_angle(std::vector<double> const& degrees) {
    if (degrees.empty()) return std::nullopt;
    std::complex<double> sum = 0.0;
    for (double const angle : degrees) sum += std::polar(1.0, angle * std::numbers::pi / 180.0);
    if (std::abs(sum) < 1e-9 * static_cast<double>(degrees.size())) return degrees.front();
    return std::arg(sum) * 180.0 / std::numbers::pi;
}

// Noise of a lag angle: the meter's floor, the CT's phase limit as a rectangle, the register skew while the load
// wanders, the resolution of P and Q against the power there is.
double lag_noise(ReadingSet const& set, double amps, double rated_a, std::optional<double> volts) {
    double const share = rated_a > 0.0 ? amps / rated_a : 1.0;
    double const class_deg = class_angle_deg(set.ct_class, share);
    double noise = 0.04 + class_deg * class_deg / 3.0;
    if (set.skew_s) noise += std::pow(std::min(*set.skew_s, 10.0) * 1.0, 2.0);
    double const step = std::max(set.resolution.p.value_or(0.0), set.resolution.q.value_or(0.0));
    if (volts && amps > 0.0 && *volts > 0.0) {
        double const angle = std::min(1.0, step / (*volts * amps)) * 180.0 / std::numbers::pi;
        noise += angle * angle / 12.0;
    }
    return std::sqrt(noise);
}

std::optional<plan::LoadKind> kind_of(Snapshot const& snapshot) {
    return snapshot.load_kind.whole ? snapshot.load_kind.whole : snapshot.load_kind.three_phase;
}

bool same_conditions(LoadGroup const& group, Snapshot const& snapshot) {
    return group.generation_running == snapshot.generation_running && group.kind == kind_of(snapshot) &&
           group.legs == snapshot.load_kind.legs;
}

// Snapshots of one group, by index.
std::vector<std::vector<std::size_t>> grouped(ReadingSet const& set) {
    std::vector<LoadGroup> heads;
    std::vector<std::vector<std::size_t>> groups;
    for (std::size_t s = 0; s < set.snapshots.size(); ++s) {
        auto const& snapshot = set.snapshots[s];
        std::size_t g = 0;
        while (g < heads.size() && !same_conditions(heads[g], snapshot)) ++g;
        if (g == heads.size()) {
            heads.push_back({.generation_running = snapshot.generation_running, .kind = kind_of(snapshot), .legs = snapshot.load_kind.legs});
            groups.emplace_back();
        }
        groups[g].push_back(s);
    }
    return groups;
}

// Joins the variants of several snapshots: with no sign in doubt the circular mean of each element; otherwise the
// newest snapshot speaks, because its doubtful signs cannot be averaged with another's.
std::vector<LagVariant> joined_lags(ReadingSet const& set, std::vector<std::size_t> const& members,
                                    std::vector<bool> const& flowing, std::vector<double> const& floor_a) {
    std::size_t const elements = flowing.size();
    std::vector<std::vector<double>> certain(elements);
    std::vector<LagVariant> newest;
    bool in_doubt = false;
    for (std::size_t const s : members) {
        std::vector<PowerWords> words;
        for (std::size_t k = 0; k < elements; ++k) {
            words.push_back(words_of(set, set.snapshots[s], k));
            if (!flowing[k] || words[k].i.value_or(0.0) < floor_a[k]) words[k] = {};
        }
        newest = lag_variants(words, set.pf_sign, set.var_sign);
        in_doubt = in_doubt || newest.size() > 1;
        if (newest.size() == 1)
            for (std::size_t k = 0; k < elements; ++k)
                if (newest[0].lag_deg[k]) certain[k].push_back(*newest[0].lag_deg[k]);
    }
    if (in_doubt) return newest;
    LagVariant joined{1.0, {}};
    for (std::size_t k = 0; k < elements; ++k) joined.lag_deg.push_back(mean_angle(certain[k]));
    return {joined};
}

std::optional<Totals> totals_of(ReadingSet const& set, std::vector<std::size_t> const& members) {
    auto const& snapshot = set.snapshots[members.back()];
    if (!snapshot.p_total) return std::nullopt;
    auto const scale = scale_of(set, 0);
    double const power = scale.v * scale.i * scale.power_sign;
    return Totals{*snapshot.p_total * power, times(snapshot.q_total, power)};
}

LoadGroup group_of(ReadingSet const& set, std::vector<std::size_t> const& members, Observed const& observed) {
    auto const& head = set.snapshots[members.front()];
    LoadGroup group{.snapshots = members.size(),
                    .generation_running = head.generation_running,
                    .kind = kind_of(head),
                    .legs = head.load_kind.legs};
    for (std::size_t k = 0; k < observed.elements; ++k) {
        double log_sum = 0.0;
        double count = 0.0;
        std::optional<double> largest;
        for (std::size_t const s : members) {
            auto const amps = times(entry(set.snapshots[s].i, k), scale_of(set, k).i);
            if (!amps) continue;
            largest = std::max(largest.value_or(0.0), *amps);
            if (*amps >= observed.dead_floor_a[k]) {
                log_sum += std::log(*amps);
                count += 1.0;
            }
        }
        group.flowing.push_back(count > 0.0);
        group.amps.push_back(count > 0.0 ? std::exp(log_sum / count) : largest);
        group.lag_noise_deg.push_back(
            lag_noise(set, group.amps[k].value_or(0.0), observed.ct_primary_a[k], observed.volts[k]));
    }
    double neutral = 0.0;
    double read = 0.0;
    for (std::size_t const s : members)
        if (auto const amps = times(set.snapshots[s].i_n, scale_of(set, 0).i)) {
            neutral += *amps;
            read += 1.0;
        }
    if (read > 0.0) group.neutral_a = neutral / read;
    group.lags = joined_lags(set, members, group.flowing, observed.dead_floor_a);
    bool any = false;
    for (auto const& variant : group.lags)
        any = any || std::ranges::any_of(variant.lag_deg, [](auto const& lag) { return lag.has_value(); });
    bool const some_flow = std::ranges::any_of(group.flowing, [](bool flows) { return flows; });
    if (!any && some_flow) group.totals = totals_of(set, members);
    return group;
}

// |P + jQ| against V I of the newest snapshot. Harmonics make P + jQ smaller, nothing makes it larger: where the
// distortion of the current was read, the fundamental share of V I is known (IEEE Std 1459: I^2 = I1^2 (1 + THD^2)).
bool clashes_at(ReadingSet const& set, std::size_t k) {
    auto const words = words_of(set, set.snapshots.back(), k);
    if (!words.v || !words.i || !words.p || !words.q) return false;
    double const apparent = *words.v * *words.i;
    double const power = std::hypot(*words.p, *words.q);
    double const least = 0.02 * set.nominal.v_ln;  // VA: below it resolution rules
    auto const distortion = entry(set.snapshots.back().thd_i, k);
    double const lowest = distortion ? 0.94 / std::hypot(1.0, *distortion) : 0.75;
    return apparent > least && (power > 1.06 * apparent || power < lowest * apparent);
}

void observe_angles(ReadingSet const& set, Observed& observed) {
    for (std::size_t k = 0; k < observed.elements; ++k) {
        std::vector<double> angles;
        for (auto const& snapshot : set.snapshots) {
            auto const own = entry(snapshot.v_angle, k);
            std::optional<double> zero;
            for (std::size_t j = 0; j < observed.elements && !zero; ++j) zero = entry(snapshot.v_angle, j);
            if (own && zero) angles.push_back(quantity::wrapped_deg(*own - *zero));
        }
        observed.volt_angle_deg.push_back(mean_angle(angles));
    }
    for (auto const& snapshot : set.snapshots)
        if (snapshot.sequence) observed.sequence = snapshot.sequence;
}
}  // namespace

Observed observed_of(ReadingSet const& set, Thresholds const& thresholds) {
    Observed observed;
    auto const model = model_of(set);
    observed.elements = model.elements.size();
    double rated_most = 0.0;
    for (std::size_t k = 0; k < observed.elements; ++k) {
        double const rated = set.ct_planned.empty() ? 0.0 : ratio_at(set.ct_planned, k).primary;
        observed.ct_primary_a.push_back(rated);
        rated_most = std::max(rated_most, rated);
        observed.volts.push_back(mean_over(set, &Snapshot::v, k, scale_of(set, k).v));
        observed.clashes.push_back(clashes_at(set, k));
    }
    double biggest = 0.0;
    for (auto const& snapshot : set.snapshots)
        for (std::size_t k = 0; k < observed.elements; ++k)
            biggest = std::max(biggest, entry(snapshot.i, k).value_or(0.0) * scale_of(set, k).i);
    observed.full_load_a = set.breaker_a ? *set.breaker_a : rated_most > 0.0 ? rated_most : std::max(biggest, 1.0) * 3.0;
    for (std::size_t k = 0; k < observed.elements; ++k) {
        double const rated = observed.ct_primary_a[k] > 0.0 ? observed.ct_primary_a[k] : observed.full_load_a;
        observed.dead_floor_a.push_back(std::max(thresholds.dead_share * rated,
                                                 set.starting_current.value_or(0.0) * scale_of(set, k).i));
    }
    for (std::size_t pair = 0; pair < model.line_pairs.size(); ++pair)
        observed.line_volts.push_back(mean_over(set, &Snapshot::v_ll, pair, scale_of(set, 0).v));
    observe_angles(set, observed);
    observed.volts_resolution = set.resolution.v.value_or(0.0);
    for (auto const& members : grouped(set)) observed.groups.push_back(group_of(set, members, observed));
    observed.last = group_of(set, {set.snapshots.size() - 1}, observed);
    for (std::size_t k = 0; k < observed.elements; ++k)
        observed.last_volts.push_back(words_of(set, set.snapshots.back(), k).v);
    return observed;
}

std::vector<PrimaryElement> primary_elements(ReadingSet const& set, Snapshot const& snapshot) {
    std::size_t const elements = model_of(set).elements.size();
    std::vector<PowerWords> words;
    for (std::size_t k = 0; k < elements; ++k) words.push_back(words_of(set, snapshot, k));
    auto const variants = lag_variants(words, set.pf_sign, set.var_sign);
    std::vector<PrimaryElement> rows(elements);
    for (std::size_t k = 0; k < elements; ++k) {
        auto const& w = words[k];
        if (w.v) rows[k].v = {*w.v};
        if (w.i) rows[k].i = {*w.i};
        if (w.p) rows[k].p = {*w.p};
        if (w.q) rows[k].q = {*w.q};
        if (variants.size() == 1 && variants[0].lag_deg[k]) rows[k].lag = quantity::Degrees{*variants[0].lag_deg[k]};
    }
    return rows;
}

}  // namespace phasewright::diagnosis
