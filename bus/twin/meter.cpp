#include "bus/twin/meter.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "core/quantity/angle.hpp"

namespace phasewright::twin {

namespace {
using Complex = std::complex<double>;
constexpr std::size_t quarter = samples_a_cycle / 4;

double mean_product(Wave const& x, Wave const& y, std::size_t x_delay = 0) {
    double sum = 0.0;
    for (std::size_t k = 0; k < y.size(); ++k) sum += x[(k + x.size() - x_delay) % x.size()] * y[k];
    return sum / static_cast<double>(y.size());
}

double rms(Wave const& x) { return std::sqrt(mean_product(x, x)); }

// Rms phasor of the fundamental.
Complex fundamental(Wave const& x) {
    Complex sum = 0.0;
    for (std::size_t k = 0; k < x.size(); ++k)
        sum += x[k] * std::polar(1.0, -2.0 * std::numbers::pi * static_cast<double>(k) /
                                          static_cast<double>(samples_a_cycle));
    return sum * std::numbers::sqrt2 / static_cast<double>(x.size());
}

Wave difference(Wave const& x, Wave const& y) {
    Wave result(x.size());
    std::ranges::transform(x, y, result.begin(), std::minus<>{});
    return result;
}

// Whole cycles between the first and the last upward crossing of zero. Between samples the wave is taken as
// straight; a crossing counts only after the wave has been well below zero, so that noise makes no second
// one.
std::optional<double> frequency(Wave const& x, double step_s) {
    double const well_below = -0.5 * rms(x);
    std::optional<double> first;
    double last = 0.0;
    int cycles = -1;
    bool armed = false;
    for (std::size_t k = 1; k < x.size(); ++k) {
        if (x[k - 1] < well_below) armed = true;
        if (!armed || x[k - 1] >= 0.0 || x[k] < 0.0) continue;
        armed = false;
        last = (static_cast<double>(k - 1) + x[k - 1] / (x[k - 1] - x[k])) * step_s;
        if (!first) first = last;
        ++cycles;
    }
    if (!first || cycles < 1) return std::nullopt;
    return cycles / (last - *first);
}

Wave element_current(plan::ElementPlan const& element, std::vector<Wave> const& currents) {
    if (element.current_input != plan::derived_current)
        return currents[static_cast<std::size_t>(element.current_input)];
    Wave derived(samples_a_window, 0.0);
    for (auto const& wave : currents) derived = difference(derived, wave);
    return derived;
}

// The rotation that the three terminals show, or none when one of them is too low to tell.
std::optional<plan::Sequence> sequence_of(std::vector<Wave> const& potentials, Wave const& against) {
    std::array<Complex, 3> u{};
    double most = 0.0;
    double least = std::numeric_limits<double>::infinity();
    for (std::size_t k = 0; k < u.size(); ++k) {
        u[k] = fundamental(difference(potentials[k], against));
        most = std::max(most, std::abs(u[k]));
        least = std::min(least, std::abs(u[k]));
    }
    if (least < 0.5 * most) return std::nullopt;
    Complex const a = std::polar(1.0, 2.0 * std::numbers::pi / 3.0);
    double const forward = std::abs(u[0] + a * u[1] + a * a * u[2]);
    double const backward = std::abs(u[0] + a * a * u[1] + a * u[2]);
    if (std::max(forward, backward) < 2.0 * std::min(forward, backward)) return std::nullopt;
    return forward > backward ? plan::Sequence::abc : plan::Sequence::acb;
}

struct ElementWaves {
    Wave v;
    Wave i;
    Complex v1;
    Complex i1;
    double v_rms = 0.0;
    double i_rms = 0.0;
};

void add_element(readings::Snapshot& shown, ElementWaves const& e) {
    double const p = mean_product(e.v, e.i);
    double const s = e.v_rms * e.i_rms;
    shown.v.emplace_back(e.v_rms);
    shown.i.emplace_back(e.i_rms);
    shown.p.emplace_back(p);
    shown.q.emplace_back(mean_product(e.v, e.i, quarter));
    shown.s.emplace_back(s);
    shown.pf.push_back(s > 0.0 ? std::optional{std::clamp(p / s, -1.0, 1.0)} : std::nullopt);
}

void add_angles(readings::Snapshot& shown, std::vector<ElementWaves> const& elements, double v_floor,
                double starting_a) {
    auto const zero = std::ranges::find_if(elements, [&](auto const& e) { return e.v_rms > v_floor; });
    if (zero == elements.end()) return;
    auto const degrees = [&](Complex phasor) {
        return quantity::wrapped_deg(std::arg(phasor / zero->v1) * 180.0 / std::numbers::pi);
    };
    for (auto const& e : elements) {
        bool const has_v = e.v_rms > v_floor;
        bool const has_i = e.i_rms > starting_a;
        shown.v_angle.push_back(has_v ? std::optional{degrees(e.v1)} : std::nullopt);
        shown.i_angle.push_back(has_i ? std::optional{degrees(e.i1)} : std::nullopt);
        double const beside = e.i_rms * e.i_rms - std::norm(e.i1);
        shown.thd_i.push_back(has_i ? std::optional{std::sqrt(std::max(beside, 0.0)) / std::abs(e.i1)}
                                    : std::nullopt);
    }
    shown.hz = frequency(zero->v, 1.0);
}

double sum_of(readings::Column const& column) {
    double sum = 0.0;
    for (auto const& entry : column) sum += entry.value_or(0.0);
    return sum;
}
}  // namespace

readings::Snapshot measured(plan::ServiceModel const& model, Inputs const& inputs, double starting_a) {
    std::vector<ElementWaves> elements;
    double highest_v = 0.0;
    for (auto const& element : model.elements) {
        ElementWaves e;
        e.v = difference(inputs.potentials[static_cast<std::size_t>(element.plus)],
                         inputs.potentials[minus_of(model, element)]);
        e.i = element_current(element, inputs.currents);
        e.v1 = fundamental(e.v);
        e.i1 = fundamental(e.i);
        e.v_rms = rms(e.v);
        e.i_rms = rms(e.i);
        highest_v = std::max(highest_v, e.v_rms);
        elements.push_back(std::move(e));
    }
    readings::Snapshot shown;
    for (auto const& e : elements) add_element(shown, e);
    add_angles(shown, elements, std::max(0.02 * highest_v, 1.0), starting_a);
    if (shown.hz) shown.hz = *shown.hz / inputs.step_s;
    for (auto const& [from, to] : model.line_pairs)
        shown.v_ll.emplace_back(rms(difference(inputs.potentials[static_cast<std::size_t>(from)],
                                               inputs.potentials[static_cast<std::size_t>(to)])));
    if (model.terminals.size() == 3) {
        // Against the neutral terminal where there is one, else against the mean of the three.
        Wave against(samples_a_window, 0.0);
        if (model.has_neutral)
            against = inputs.potentials[3];
        else
            for (std::size_t k = 0; k < against.size(); ++k)
                against[k] =
                    (inputs.potentials[0][k] + inputs.potentials[1][k] + inputs.potentials[2][k]) / 3.0;
        shown.sequence = sequence_of(inputs.potentials, against);
    }
    shown.p_total = sum_of(shown.p);
    shown.q_total = sum_of(shown.q);
    shown.s_total = std::hypot(*shown.p_total, *shown.q_total);
    if (*shown.s_total > 0.0) shown.pf_total = *shown.p_total / *shown.s_total;
    return shown;
}

readings::Snapshot shown_at(plan::ServiceModel const& model, Supply const& supply, WiredPoint const& wired,
                            std::uint64_t seed, double time_s) {
    double const held_since_s = std::floor(time_s / refresh_s) * refresh_s;
    std::vector<Stray> strays;
    strays.reserve(wired.loads.size());
    for (std::size_t k = 0; k < wired.loads.size(); ++k)
        strays.push_back(stray_at(wired.wander, seed_for(seed, wired.id, k), held_since_s));
    auto const moment = static_cast<std::int64_t>(std::llround(held_since_s / refresh_s));
    Dice dice{seed_for(seed ^ 0xA5A5A5A5ULL, wired.id, static_cast<std::uint64_t>(moment))};
    auto const waves = waves_of(supply, wired.loads, strays);
    double starting_a = 0.0;
    for (auto const& ct : wired.cts)
        starting_a = std::max(starting_a, starting_share * ct.programmed.primary);
    return measured(model, inputs_of(model, wired, supply, waves, dice), starting_a);
}

}  // namespace phasewright::twin
