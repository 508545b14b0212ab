#include "core/diagnosis/load_steps.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "core/diagnosis/gaussians.hpp"
#include "core/quantity/angle.hpp"

namespace phasewright::diagnosis {

namespace {
using Complex = std::complex<double>;
using quantity::degrees_per_radian;
constexpr double odd_step = 0.01;       // the other loads moved at the same moment
constexpr double load_wander = 0.02;    // of what flowed before, between two snapshots
constexpr double heater_spread = 0.05;  // rated power against real, on either component: 3 degrees of angle

struct Difference {
    std::vector<std::optional<Complex>> power;  // per element, primary side, W and var
    std::vector<double> before_va;
};

Difference difference_of(readings::ReadingSet const& set, readings::LoadStep const& step) {
    Difference difference;
    auto const before = primary_elements(set, set.snapshots[step.before]);
    auto const after = primary_elements(set, set.snapshots[step.after]);
    for (std::size_t k = 0; k < before.size(); ++k) {
        std::optional<Complex> change;
        if (before[k].p && before[k].q && after[k].p && after[k].q)
            change = Complex{after[k].p->value - before[k].p->value, after[k].q->value - before[k].q->value};
        difference.power.push_back(change);
        double const v = before[k].v ? before[k].v->value : set.nominal.v_ln;
        difference.before_va.push_back(v * (before[k].i ? before[k].i->value : 0.0));
    }
    return difference;
}

// The change of the line currents that a resistive load of the step's watts makes.
std::array<Complex, 4> current_change(readings::LoadStep const& step, plan::SourcePhasors const& u) {
    std::array<Complex, 4> change{};
    if (step.conductors.empty()) return change;
    double const each = step.watts / static_cast<double>(step.conductors.size());
    for (auto const conductor : step.conductors) {
        auto const from = static_cast<std::size_t>(conductor);
        auto const to = static_cast<std::size_t>(step.to.value_or(plan::Conductor::n));
        Complex const volts = u[from] - u[to];
        double const size = std::abs(volts);
        if (size == 0.0) continue;
        double const rated = step.rated_v.value_or(size);
        Complex const current = volts * (each / (rated * rated));
        change[from] += current;
        if (to < 3) change[to] -= current;
    }
    return change;
}

double log_density(AnswerBasis const& basis, Difference const& difference, std::array<Complex, 4> const& change, TapView const& view,
                   CurrentLanding const& current, RatioSetting const& ratio) {
    auto const& model = basis.landings.model;
    double log_sum = 0.0;
    std::array<Complex, 3> seen{};
    for (std::size_t input = 0; input < model.current_inputs.size(); ++input) {
        if (current.path[input] < 0) continue;
        auto const conductor = static_cast<std::size_t>(model.live[static_cast<std::size_t>(current.path[input])]);
        seen[input] = static_cast<double>(current.sign[input]) * ratio[input] * change[conductor];
    }
    for (std::size_t k = 0; k < model.elements.size(); ++k) {
        if (!difference.power[k] || model.elements[k].current_input < 0) continue;
        auto const input = static_cast<std::size_t>(model.elements[k].current_input);
        double const volts = basis.observed.volts[k].value_or(basis.set.nominal.v_ln);
        double const size = volts * std::abs(seen[input]);
        double const floor = 0.002 * basis.set.nominal.v_ln * basis.observed.full_load_a + 1.0;
        double const sigma = std::sqrt(std::pow(load_wander * difference.before_va[k], 2.0) +
                                       std::pow(heater_spread * size, 2.0) + floor * floor);
        double const wide = 10.0 * sigma + difference.before_va[k];
        double density = 0.0;
        if (view.angle_deg[k]) {
            Complex const predicted = std::polar(volts, *view.angle_deg[k] / degrees_per_radian) * std::conj(seen[input]);
            Complex const off = *difference.power[k] - predicted;
            density = normal_density(off.real(), sigma) * normal_density(off.imag(), sigma);
        } else {  // the angle of a stray voltage tells nothing; the size of the change does
            double const off = std::abs(*difference.power[k]) - size;
            density = normal_density(off, sigma) / (2.0 * std::numbers::pi * std::max(std::abs(*difference.power[k]), sigma));
        }
        double const broad = normal_density(std::abs(*difference.power[k]), wide);
        log_sum += std::log((1.0 - odd_step) * density + odd_step * broad * broad + 1e-300);
    }
    return log_sum;
}
}  // namespace

void weigh_steps(AnswerBasis const& basis, std::vector<double>& log_weight) {
    for (auto const& step : basis.set.steps) {
        if (step.before >= basis.set.snapshots.size() || step.after >= basis.set.snapshots.size()) continue;
        auto const difference = difference_of(basis.set, step);
        auto const change = current_change(step, basis.u);
        double const best = *std::ranges::max_element(log_weight);
        for (std::size_t h = 0; h < basis.landings.size(); ++h) {
            if (log_weight[h] < best - 80.0) continue;
            log_weight[h] += log_density(basis, difference, change, basis.views[basis.landings.tap_of[h]],
                                         basis.landings.currents[basis.landings.current_of[h]],
                                         basis.landings.ratios[basis.landings.ratio_of[h]]);
        }
    }
}

}  // namespace phasewright::diagnosis
