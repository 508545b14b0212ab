#include "core/diagnosis/supply_model.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>
#include <vector>

#include "core/diagnosis/floating_star.hpp"
#include "core/diagnosis/gaussians.hpp"
#include "core/diagnosis/primitives.hpp"
#include "core/quantity/angle.hpp"
#include "core/quantity/three_phase.hpp"

namespace phasewright::diagnosis {

namespace {
using wiring::Touch;
using Complex = std::complex<double>;

constexpr double no_volts = 0.05;    // relative size below which a prediction counts as no voltage
constexpr double zero_sigma = 0.02;  // what is left of a voltage that should be nothing, relative
constexpr double widest = 2.0;       // relative sizes up to this can be read at all
constexpr double degrees_round = 360.0;

double half_normal_density(double size, double sigma) { return 2.0 * normal_density(size, sigma); }

double stray_density(double size, SupplyPriors const& priors) {
    double const spread = size < 0.98 ? 1.0 / 0.98 : 0.0;
    return (1.0 - priors.stray_weight) * half_normal_density(size, zero_sigma) + priors.stray_weight * spread;
}

struct SizePair {
    double read;       // relative to planned nominal
    double predicted;
    double outlier_weight;
};

// Sizes that should be something: a common deviation of the supply and one of each phase, both with heavy tails,
// and for each a small chance of a field that means nothing.
double live_sizes_density(std::vector<SizePair> const& sizes, SupplyPriors const& priors) {
    std::size_t const n = sizes.size();
    if (n == 0) return 1.0;
    std::size_t ways = 1;
    for (std::size_t k = 0; k < n; ++k) ways *= 3;
    double density = 0.0;
    for (std::size_t way = 0; way < ways; ++way) {
        double weight = 1.0;
        std::array<double, 6> y{};
        std::array<double, 6> variance{};
        std::size_t used = 0;
        std::size_t rest = way;
        for (std::size_t k = 0; k < n; ++k, rest /= 3) {
            std::size_t const choice = rest % 3;
            if (choice == 2) {
                weight *= sizes[k].outlier_weight / widest;
                continue;
            }
            double const sigma = choice == 0 ? priors.phase : priors.phase_tail;
            weight *= (1.0 - sizes[k].outlier_weight) *
                      (choice == 0 ? 1.0 - priors.phase_tail_weight : priors.phase_tail_weight);
            double const read = std::max(sizes[k].read, 1e-6);
            y[used] = std::log(read / sizes[k].predicted);
            variance[used] = sigma * sigma;
            weight /= read;
            ++used;
        }
        if (used == 0) {
            density += weight;
            continue;
        }
        std::span<double const> const ys{y.data(), used};
        std::span<double const> const variances{variance.data(), used};
        density += weight * ((1.0 - priors.common_tail_weight) *
                                 shared_normal_density(ys, variances, priors.common * priors.common) +
                             priors.common_tail_weight *
                                 shared_normal_density(ys, variances, priors.common_tail * priors.common_tail));
    }
    return density;
}

double angles_density(TapView const& view, Observed const& observed, SupplyPriors const& priors) {
    std::optional<std::size_t> reference;
    double density = 1.0;
    double const sigma = priors.angle_deg * std::numbers::sqrt2;
    std::size_t unexplained = 0;
    for (std::size_t k = 0; k < observed.elements; ++k) {
        if (!observed.volt_angle_deg[k]) continue;
        if (!view.angle_deg[k] || view.stray[k]) {
            ++unexplained;
            continue;
        }
        if (!reference) {
            reference = k;
            continue;
        }
        double const read = *observed.volt_angle_deg[k] - *observed.volt_angle_deg[*reference];
        double const predicted = *view.angle_deg[k] - *view.angle_deg[*reference];
        density *= (1.0 - priors.outlier_weight) * normal_density(quantity::wrapped_deg(read - predicted), sigma) +
                   priors.outlier_weight / degrees_round;
    }
    // An angle that the hypothesis does not explain is equally likely anywhere; with no angle explained at all, one
    // of them is only the zero of the others.
    if (!reference && unexplained > 0) --unexplained;
    return density * std::pow(1.0 / degrees_round, static_cast<double>(unexplained));
}

double line_volts_density(TapView const& view, plan::Nominal const& nominal, Observed const& observed,
                          SupplyPriors const& priors) {
    double density = 1.0;
    for (std::size_t pair = 0; pair < observed.line_volts.size(); ++pair) {
        if (!observed.line_volts[pair]) continue;
        double const read = *observed.line_volts[pair] / nominal.v_ll;
        if (!view.line_size[pair]) {  // one of the two taps floats
            density *= 0.4 * normal_density(read - quantity::phase_from_line_v(1.0), 0.08) + 0.6 / 1.3;
            continue;
        }
        double const predicted = *view.line_size[pair] / nominal.v_ll;
        double const sigma = predicted < no_volts ? zero_sigma : priors.common * predicted + 0.01;
        density *= (1.0 - 2.0 * priors.outlier_weight) * normal_density(read - predicted, sigma) +
                   2.0 * priors.outlier_weight / widest;
    }
    return density;
}

double sequence_probability(TapView const& view, Observed const& observed) {
    bool const angles_tell = std::ranges::count_if(observed.volt_angle_deg, [](auto const& a) { return a.has_value(); }) >= 2;
    if (!observed.sequence || angles_tell) return 1.0;
    if (!view.shown) return 0.5;
    return *view.shown == *observed.sequence ? 0.98 : 0.02;
}
}  // namespace

TerminalPotentials potentials_of(TapLanding const& tap, plan::ServiceModel const& model, plan::SourcePhasors const& u) {
    // Voltage transformers of a meter with a common terminal stand between it and the others.
    bool const has_common = model.elements.front().minus >= 0;
    Complex const common = has_common && tap.terminal[1] != Touch::lost ? u[static_cast<std::size_t>(tap.terminal[1])] : 0.0;
    TerminalPotentials at;
    for (std::size_t t = 0; t < model.terminals.size(); ++t)
        if (tap.terminal[t] != Touch::lost)
            at[t] = usual_vt_ratios[tap.vt_ratio] * static_cast<double>(tap.turned[t]) *
                    (u[static_cast<std::size_t>(tap.terminal[t])] - common);
    return at;
}

std::optional<plan::Sequence> sequence_of(TerminalPotentials const& at, plan::ServiceModel const& model, double least_area) {
    if (model.terminals.size() != 3 || !at[0] || !at[1] || !at[2]) return std::nullopt;
    double const turn = std::imag(std::conj(*at[1] - *at[0]) * (*at[2] - *at[0]));
    if (turn < -least_area) return plan::Sequence::abc;
    if (turn > least_area) return plan::Sequence::acb;
    return std::nullopt;
}

TapView view_of(TapLanding const& tap, plan::ServiceModel const& model, plan::Nominal const& nominal,
                plan::Sequence at_source) {
    auto const u = plan::source_phasors(model, nominal, at_source);
    auto const wired = wiring_of(model, tap, planned_currents(model), {1.0, 1.0, 1.0});
    auto const seen = wiring::seen_by(wired, model);
    auto const planned = wiring::seen_by(wiring::as_planned(model), model);
    TapView view;
    view.neutral_lost = model.has_neutral && tap.neutral == Touch::lost && model.terminals.size() > 1;
    for (std::size_t k = 0; k < seen.elements; ++k) {
        Complex v = 0.0;
        Complex v_planned = 0.0;
        for (std::size_t c = 0; c < 4; ++c) {
            v += seen.voltage[k][c] * u[c];
            v_planned += planned.voltage[k][c] * u[c];
        }
        view.relative_size[k] = std::abs(v) / std::abs(v_planned);
        view.stray[k] = seen.voltage_lost[k];
        if (view.relative_size[k] >= no_volts && !view.stray[k]) view.angle_deg[k] = std::arg(v) * 180.0 / std::numbers::pi;
    }
    view.star_floats = tap.supply_neutral_broken;
    auto const at = potentials_of(tap, model, u);
    for (std::size_t pair = 0; pair < model.line_pairs.size(); ++pair) {
        auto const& one = at[static_cast<std::size_t>(model.line_pairs[pair][0])];
        auto const& other = at[static_cast<std::size_t>(model.line_pairs[pair][1])];
        if (one && other) view.line_size[pair] = std::abs(*one - *other);
    }
    view.shown = sequence_of(at, model, 0.05 * nominal.v_ll * nominal.v_ll);
    return view;
}

namespace {
// The sizes that a view says are live, weighed once for each distinct set of predictions.
class LiveSizes {
   public:
    explicit LiveSizes(SupplyPriors const& priors) : priors_(priors) {}
    double density(std::vector<SizePair> const& live) {
        for (auto const& [sizes, density] : known_)
            if (std::ranges::equal(sizes, live, alike)) return density;
        return known_.emplace_back(live, live_sizes_density(live, priors_)).second;
    }

   private:
    static bool alike(SizePair const& one, SizePair const& other) {
        return one.read == other.read && std::abs(one.predicted - other.predicted) < 1e-9;
    }
    SupplyPriors const& priors_;
    std::vector<std::pair<std::vector<SizePair>, double>> known_;
};

double density_of(TapView const& view, std::vector<double> const& nominal_volts, plan::Nominal const& nominal,
                  Observed const& observed, SupplyPriors const& priors, double floating, LiveSizes& sizes) {
    double density = 1.0;
    std::vector<SizePair> live;
    for (std::size_t k = 0; k < observed.elements; ++k) {
        if (!observed.volts[k]) continue;
        double const read = *observed.volts[k] / nominal_volts[k];
        double const outlier = observed.clashes[k] ? priors.clash_weight : priors.outlier_weight;
        if (view.stray[k]) {
            density *= stray_density(read, priors);
        } else if (view.relative_size[k] < no_volts) {
            density *= (1.0 - outlier) * half_normal_density(read, zero_sigma) + outlier / widest;
        } else {
            live.push_back({read, view.relative_size[k], outlier});
        }
    }
    double const lines = line_volts_density(view, nominal, observed, priors);
    if (view.star_floats) return floating * lines * sequence_probability(view, observed);
    density *= sizes.density(live) * angles_density(view, observed, priors);
    // The common point of the meter's inputs floats: with unequal inputs, anywhere.
    if (view.neutral_lost) density = 0.7 * density + 0.3 * floating;
    return density * lines * sequence_probability(view, observed);
}
}  // namespace

std::vector<double> densities_of_volts(std::vector<TapView> const& views, plan::ServiceModel const& model,
                                       plan::Nominal const& nominal, Observed const& observed,
                                       SupplyPriors const& priors, plan::Sequence at_source) {
    auto const u = plan::source_phasors(model, nominal, plan::Sequence::abc);
    auto const source = plan::source_phasors(model, nominal, at_source);
    auto const planned = wiring::seen_by(wiring::as_planned(model), model);
    std::vector<double> nominal_volts;
    for (std::size_t k = 0; k < observed.elements; ++k) {
        Complex volts = 0.0;
        for (std::size_t c = 0; c < 4; ++c) volts += planned.voltage[k][c] * u[c];
        nominal_volts.push_back(std::abs(volts));
    }
    LiveSizes sizes(priors);
    std::vector<double> densities;
    densities.reserve(views.size());
    double const floating = floating_star_density(model, source, observed, priors);
    for (auto const& view : views)
        densities.push_back(density_of(view, nominal_volts, nominal, observed, priors, floating, sizes));
    return densities;
}

}  // namespace phasewright::diagnosis
