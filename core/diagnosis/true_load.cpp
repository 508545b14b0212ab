#include "core/diagnosis/true_load.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <functional>
#include <numbers>

#include "core/quantity/angle.hpp"

namespace phasewright::diagnosis {

namespace {
using Complex = std::complex<double>;
using wiring::Touch;
using quantity::degrees_per_radian;
constexpr double five_percent_point = 1.6448536269514722;  // of the standard normal, one-sided

// Relative standard uncertainties of a corrected power, beside the meter's own class: a voltage that was not read with
// its own current (1 % unbalance turns the angle between two phases by 0.7 degrees rms, docs/physics/true-power.md), and
// the meter and CT classes.
constexpr double class_share = 0.006;
constexpr double class_angle = 0.3 / degrees_per_radian;
constexpr double borrowed_volts = 0.008;
constexpr double borrowed_angle = 0.7 / degrees_per_radian;

std::size_t conductor_index(plan::ServiceModel const& model, std::size_t path) {
    return static_cast<std::size_t>(model.live[path]);
}

// The supply as far as it was read: nominal phasors, each scaled by the element whose tap touches that conductor
// alone against the neutral (or, without a neutral, by the mean of all).
plan::SourcePhasors supply_as_read(LoadQuestion const& question, std::size_t hypothesis, plan::Sequence at_source) {
    auto const& model = question.landings.model;
    auto const& tap = question.landings.taps[question.landings.tap_of[hypothesis]];
    auto u = plan::source_phasors(model, question.nominal, at_source);
    auto const view = view_of(tap, model, question.nominal, at_source);
    double sum = 0.0;
    double count = 0.0;
    std::array<double, 3> own{};
    auto const seen = wiring::seen_by(wiring::as_planned(model), model);
    for (std::size_t k = 0; k < question.observed.elements; ++k) {
        if (!question.observed.last_volts[k] || !view.angle_deg[k]) continue;
        Complex nominal_v = 0.0;
        for (std::size_t c = 0; c < 4; ++c) nominal_v += seen.voltage[k][c] * u[c];
        double const factor = *question.observed.last_volts[k] / (std::abs(nominal_v) * view.relative_size[k]);
        sum += factor;
        count += 1.0;
        auto const touch = tap.terminal[static_cast<std::size_t>(model.elements[k].plus)];
        if (tap.neutral == Touch::n && model.has_neutral && touch < Touch::n) own[static_cast<std::size_t>(touch)] = factor;
    }
    double const mean = count > 0.0 ? sum / count : 1.0;
    for (std::size_t c = 0; c < 3; ++c) u[c] *= own[c] > 0.0 ? own[c] : mean;
    return u;
}

struct PathLoad {
    std::array<std::optional<Complex>, 3> power;    // by path
    std::array<std::optional<Complex>, 3> current;  // phasor in the source's frame
    bool derived = false;                           // one of them from the sum of the others
};

PathLoad loads_of(LoadQuestion const& question, std::size_t hypothesis, plan::Sequence at_source, plan::SourcePhasors const& u,
                  LagVariant const& lags) {
    auto const& group = question.observed.last;
    auto const& model = question.landings.model;
    PathLoad load;
    auto const back = read_back(question.landings, hypothesis, question.nominal, at_source, group, lags);
    auto const& current = question.landings.currents[question.landings.current_of[hypothesis]];
    std::size_t known = 0;
    for (std::size_t path = 0; path < model.live.size(); ++path) {
        auto const volts = u[conductor_index(model, path)];
        bool fed = false;
        for (std::size_t k = 0; k < model.current_inputs.size(); ++k) fed = fed || current.path[k] == static_cast<int>(path);
        if (back.log_amps[path] && back.lag_deg[path]) {
            double const arg = std::arg(volts) - *back.lag_deg[path] / degrees_per_radian;
            load.current[path] = std::polar(std::exp(*back.log_amps[path]), arg);
        } else if (fed && !back.log_amps[path]) {
            load.current[path] = Complex{};  // its CT is there and nothing flows
        }
        known += load.current[path] ? 1 : 0;
    }
    if (model.currents_sum_to_zero && model.live.size() == 3 && known == 2) {
        load.derived = true;
        Complex sum = 0.0;
        for (auto const& j : load.current)
            if (j) sum += *j;
        for (auto& j : load.current)
            if (!j) j = -sum;
    }
    for (std::size_t path = 0; path < model.live.size(); ++path)
        if (load.current[path]) load.power[path] = u[conductor_index(model, path)] * std::conj(*load.current[path]);
    return load;
}

void set_band(TruePower& power, double p_sigma, double q_sigma) {
    power.p05_w = *power.p_w - five_percent_point * p_sigma;
    power.p95_w = *power.p_w + five_percent_point * p_sigma;
    if (!power.q_var) return;
    power.q05_var = *power.q_var - five_percent_point * q_sigma;
    power.q95_var = *power.q_var + five_percent_point * q_sigma;
}

bool lands_as_planned(Landings const& landings, std::size_t h) {
    return landings.tap_of[h] == landings.tap_of[landings.planned] &&
           landings.current_of[h] == landings.current_of[landings.planned];
}

std::string why_lost(Landings const& landings, std::size_t h, LoadGroup const& group) {
    if (group.lags.size() != 1) return "the signs of the readings are in doubt: P and Q of each element would settle it";
    auto const& current = landings.currents[landings.current_of[h]];
    if (group.totals) return "the power of each element was not read: totals alone do not tell it";
    for (std::size_t k = 0; k < group.flowing.size(); ++k)
        if (group.flowing[k] && !group.lags[0].lag_deg[k]) return "the power of an element was not read";
    for (std::size_t k = 0; k < landings.model.current_inputs.size(); ++k)
        if (current.path[k] == crossed_path) return "of two currents in one loop only something between their half sum and nothing was read";
    if (current.coil) return "what a raw coil gives a voltage input has no known ratio";
    for (std::size_t k = 0; k < landings.model.current_inputs.size(); ++k)
        if (current.path[k] < 0) return "a current that never reached the meter leaves no trace in its readings";
    for (auto const touch : landings.taps[landings.tap_of[h]].terminal)
        if (touch == Touch::lost) return "with a voltage lost, the angle of its current is not known";
    return "the current of one conductor was not read";
}

std::vector<ElementValues> seen_after_repair(LoadQuestion const& question, PathLoad const& load, plan::SourcePhasors const& u) {
    auto const& model = question.landings.model;
    auto const seen = wiring::seen_by(wiring::as_planned(model), model);
    auto const planned = question.landings.currents[question.landings.current_of[question.landings.planned]];
    std::vector<ElementValues> rows(model.elements.size());
    std::vector<std::optional<Complex>> i(model.elements.size());
    for (std::size_t k = 0; k < model.elements.size(); ++k)
        if (int const input = model.elements[k].current_input; input >= 0)
            i[k] = load.current[static_cast<std::size_t>(planned.path[static_cast<std::size_t>(input)])];
    for (std::size_t k = 0; k < model.elements.size(); ++k) {
        if (model.elements[k].current_input == plan::derived_current) {
            Complex sum = 0.0;
            bool all = true;
            for (std::size_t other = 0; other < i.size(); ++other)
                if (other != k) {
                    all = all && i[other].has_value();
                    sum -= i[other].value_or(0.0);
                }
            if (all) i[k] = sum;
        }
        Complex v = 0.0;
        for (std::size_t c = 0; c < 4; ++c) v += seen.voltage[k][c] * u[c];
        rows[k].v = std::abs(v);
        if (!i[k]) continue;
        Complex const s = v * std::conj(*i[k]);
        rows[k].i = std::abs(*i[k]);
        rows[k].p = s.real();
        rows[k].q = s.imag();
        if (std::abs(s) > 0.0) rows[k].lag_deg = std::arg(s) * degrees_per_radian;
    }
    return rows;
}
}  // namespace

namespace {
struct SummedLoad {
    Complex s;
    double p_variance = 0.0;
    double q_variance = 0.0;
    bool all = true;
};
SummedLoad summed(LoadQuestion const& question, PathLoad const& load, bool landed) {
    SummedLoad sum;
    for (std::size_t path = 0; path < question.landings.model.live.size(); ++path) {
        sum.all = sum.all && load.power[path].has_value();
        Complex const s = load.power[path].value_or(0.0);
        sum.s += s;
        double const volts = landed ? class_share : borrowed_volts;
        double const angle = landed ? 0.3 * borrowed_angle : borrowed_angle;
        sum.p_variance += std::pow(s.real() * volts, 2.0) + std::pow(s.imag() * angle, 2.0);
        sum.q_variance += std::pow(s.imag() * volts, 2.0) + std::pow(s.real() * angle, 2.0);
    }
    return sum;
}
}  // namespace

namespace {
// Nothing is corrected: the elements' own sum is the best there is. False where it was not read.
bool sum_as_read(LoadQuestion const& question, bool all_read_back, TruePower& power, double& p_variance, double& q_variance) {
    double p = 0.0;
    double q = 0.0;
    bool p_known = true;
    bool q_known = true;
    for (auto const& row : question.as_read) {
        p_known = p_known && row.p.has_value();
        q_known = q_known && row.q.has_value();
        p += row.p.value_or(0.0);
        q += row.q.value_or(0.0);
    }
    auto const& totals = question.observed.last.totals;
    if (!p_known && totals) {
        p_known = true;
        p = totals->p_w;
        q_known = totals->q_var.has_value();
        q = totals->q_var.value_or(0.0);
    }
    if (!p_known) return false;
    power.p_w = p;
    if (q_known) power.q_var = q;
    if (!all_read_back) p_variance = std::pow(class_share * p, 2.0);
    if (!q_known || totals) return true;
    // Each element errs by itself, and one that reads far from its own unity errs most (two-element metering).
    p_variance = 0.0;
    q_variance = 0.0;
    for (auto const& row : question.as_read) {
        p_variance += std::pow(*row.p * class_share, 2.0) + std::pow(*row.q * class_angle, 2.0);
        q_variance += std::pow(*row.q * class_share, 2.0) + std::pow(*row.p * class_angle, 2.0);
    }
    return true;
}
}  // namespace

TrueLoad true_load(LoadQuestion const& question, std::size_t hypothesis, plan::Sequence at_source) {
    TrueLoad result;
    auto const& landings = question.landings;
    auto const& group = question.observed.last;
    auto const& ratio = landings.ratios[landings.ratio_of[hypothesis]];
    bool const right_ratio = ratio == landings.ratios[landings.ratio_of[landings.planned]];
    bool const landed = lands_as_planned(landings, hypothesis);
    auto const u = supply_as_read(question, hypothesis, at_source);
    auto const load = loads_of(question, hypothesis, at_source, u, group.lags.front());
    auto const sum = summed(question, load, landed);
    bool const all = sum.all;
    bool const signs_agree = std::ranges::all_of(group.lags, [&](LagVariant const& lags) {
        auto const other = summed(question, loads_of(question, hypothesis, at_source, u, lags), landed);
        return other.all && std::abs(other.s.real() - sum.s.real()) <= 0.005 * std::abs(sum.s);
    });
    double p_variance = sum.p_variance;
    double q_variance = sum.q_variance;
    bool const as_read = landed && right_ratio && sum_as_read(question, all, result.power, p_variance, q_variance);
    bool const sized = !landings.currents[landings.current_of[hypothesis]].coil;
    if (!as_read && all && signs_agree && sized) {
        result.power.p_w = sum.s.real();
        if (group.lags.size() == 1) result.power.q_var = sum.s.imag();
    }
    if (!result.power.p_w) {
        result.power.why = why_lost(landings, hypothesis, group);
        result.law = EnergyLaw::lost;
        return result;
    }
    // Two elements need two currents; a third one derived from three wires is as good as read. Where a meter with
    // three inputs lost one, or takes a four-wire neutral current for nothing, only a range is left.
    bool const by_design = landings.model.current_inputs.size() == 2 && landings.model.service != plan::Service::four_wire_two_ct;
    result.law = load.derived && !landed && !by_design ? EnergyLaw::band : landed && !right_ratio ? EnergyLaw::factor : EnergyLaw::exact;
    set_band(result.power, std::sqrt(p_variance), std::sqrt(q_variance));
    if (all && group.lags.size() == 1) result.after_repair = seen_after_repair(question, load, u);
    return result;
}

namespace {
struct Part {
    double weight, mean, sigma;
};

double quantile(std::vector<Part> const& parts, double at) {
    double low = parts[0].mean;
    double high = parts[0].mean;
    double total = 0.0;
    for (auto const& part : parts) {
        low = std::min(low, part.mean - 6.0 * part.sigma - 1e-9);
        high = std::max(high, part.mean + 6.0 * part.sigma + 1e-9);
        total += part.weight;
    }
    for (int step = 0; step < 80; ++step) {
        double const middle = 0.5 * (low + high);
        double below = 0.0;
        for (auto const& part : parts)
            below += part.weight * (part.sigma > 0.0 ? 0.5 * std::erfc((part.mean - middle) / (part.sigma * std::numbers::sqrt2))
                                                     : (part.mean <= middle ? 1.0 : 0.0));
        (below < at * total ? low : high) = middle;
    }
    return 0.5 * (low + high);
}
}  // namespace

TruePower over_classes(std::vector<WiringClass> const& classes) {
    if (classes.empty()) return {};
    auto power = classes.front().true_power;
    if (!power.p_w) return power;
    std::vector<Part> p;
    std::vector<Part> q;
    for (auto const& c : classes) {
        auto const& own = c.true_power;
        if (own.p_w && own.p95_w) p.push_back({c.probability, *own.p_w, (*own.p95_w - *own.p_w) / five_percent_point});
        if (own.q_var && own.q95_var) q.push_back({c.probability, *own.q_var, (*own.q95_var - *own.q_var) / five_percent_point});
    }
    if (!p.empty()) {
        power.p05_w = quantile(p, 0.05);
        power.p95_w = quantile(p, 0.95);
    }
    if (!q.empty()) {
        power.q05_var = quantile(q, 0.05);
        power.q95_var = quantile(q, 0.95);
    }
    return power;
}

}  // namespace phasewright::diagnosis
