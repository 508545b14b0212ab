#include "core/diagnosis/load_model.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "core/diagnosis/gaussians.hpp"
#include "core/quantity/angle.hpp"

namespace phasewright::diagnosis {

namespace {
using Complex = std::complex<double>;
constexpr double degrees_per_radian = 180.0 / std::numbers::pi;

Complex direction(Complex phasor) { return phasor / std::abs(phasor); }

// How a path's current, given for a load of angle zero, stands to the voltage of its own conductor.
void shift_by(LoadShape& shape, std::size_t path, Complex current, Complex own_voltage) {
    shape.angle_shift_deg[path] = -std::arg(current / direction(own_voltage)) * degrees_per_radian;
    shape.log_size_shift[path] = std::log(std::max(std::abs(current), 1e-3));
}

// One load between two conductors: the same current in both, to within what CTs and meters differ.
void one_current(LoadShape& shape) {
    shape.spread_factor = 0.08;
    shape.size_factor = 0.05;
}

// Two phases of a wye: a share of the load stands between the phases, the rest from each phase to the neutral.
std::vector<LoadShape> two_phase_shapes(plan::SourcePhasors const& u) {
    constexpr std::array<std::array<double, 2>, 5> shares{{{0.0, 0.5}, {0.25, 0.15}, {0.5, 0.12}, {0.75, 0.08}, {1.0, 0.15}}};
    std::vector<LoadShape> shapes;
    Complex const across = direction(u[0] - u[1]);
    for (auto const& [share, weight] : shares) {
        LoadShape shape{.weight = weight};
        shift_by(shape, 0, (1.0 - share) * direction(u[0]) + share * across, u[0]);
        shift_by(shape, 1, (1.0 - share) * direction(u[1]) - share * across, u[1]);
        if (share == 1.0) one_current(shape);
        shapes.push_back(shape);
    }
    return shapes;
}

// Two legs: loads from each to the neutral, or one load between the legs.
std::vector<LoadShape> split_phase_shapes() {
    LoadShape between{.weight = 0.2};
    one_current(between);
    return {LoadShape{.weight = 0.8}, between};
}

// High-leg delta: a three-phase part, whose currents lag the voltages against the triangle's centre, and lighting on
// the two legs to neutral. The legs are sized against the three-phase part, each from nothing to far more.
std::vector<LoadShape> high_leg_shapes(plan::ServiceModel const& model, plan::SourcePhasors const& u) {
    constexpr std::array<std::array<double, 2>, 5> legs{{{0.0, 0.30}, {0.3, 0.15}, {0.8, 0.20}, {2.0, 0.20}, {6.0, 0.15}}};
    auto const high = static_cast<std::size_t>(model.high_leg);
    auto const one = (high + 2) % 3;
    auto const other = (high + 1) % 3;
    Complex const centre = (u[0] + u[1] + u[2]) / 3.0;
    std::vector<LoadShape> shapes;
    for (auto const& [leg_one, weight_one] : legs)
        for (auto const& [leg_other, weight_other] : legs) {
            // Legs are loaded alike more often than not.
            double const alike = leg_one == leg_other ? 2.5 : 1.0;
            LoadShape shape{.weight = weight_one * weight_other * alike, .spread_factor = 1.3};
            shift_by(shape, high, direction(u[high] - centre), u[high]);
            shift_by(shape, one, direction(u[one] - centre) + leg_one * direction(u[one]), u[one]);
            shift_by(shape, other, direction(u[other] - centre) + leg_other * direction(u[other]), u[other]);
            shapes.push_back(shape);
        }
    double total = 0.0;
    for (auto const& shape : shapes) total += shape.weight;
    for (auto& shape : shapes) shape.weight /= total;
    return shapes;
}

// The measured paths of one call, without their gaps.
struct Packed {
    std::array<double, 3> value{};
    std::array<std::size_t, 3> path{};
    std::size_t count = 0;
};
Packed packed(std::array<std::optional<double>, 3> const& values) {
    Packed all;
    for (std::size_t path = 0; path < 3; ++path)
        if (values[path]) {
            all.value[all.count] = *values[path];
            all.path[all.count++] = path;
        }
    return all;
}

// The lags against one atom's mean, turned so that they stand together: the circular mean is wrapped, and each lag
// is taken by its wrapped distance from it.
void unwrap(Packed const& lags, LoadShape const& shape, double mean_deg, std::array<double, 3>& y) {
    Complex sum = 0.0;
    for (std::size_t k = 0; k < lags.count; ++k) {
        y[k] = lags.value[k] - shape.angle_shift_deg[lags.path[k]] - mean_deg;
        sum += std::polar(1.0, y[k] / degrees_per_radian);
    }
    double const middle = std::abs(sum) < 1e-9 ? quantity::wrapped_deg(y[0]) : std::arg(sum) * degrees_per_radian;
    for (std::size_t k = 0; k < lags.count; ++k) y[k] = middle + quantity::wrapped_deg(y[k] - middle);
}

struct TailChoice {
    double weight;
    double sigma_deg;
};

double lags_given_atom(LoadModel const& model, Packed const& lags, LoadShape const& shape, AngleAtom const& atom,
                       PathTrust const& trust) {
    auto const& spread = model.spread;
    std::array<TailChoice, 2> const tails{{{1.0 - spread.phase_tail_weight, spread.phase_deg},
                                           {spread.phase_tail_weight, spread.phase_tail_deg}}};
    double const common = atom.sigma_deg * atom.sigma_deg + spread.wander_deg * spread.wander_deg / model.snapshots;
    std::array<double, 3> y{};
    unwrap(lags, shape, atom.mean_deg, y);
    std::size_t ways = 1;
    for (std::size_t k = 0; k < lags.count; ++k) ways *= 3;
    double density = 0.0;
    for (std::size_t way = 0; way < ways; ++way) {
        double weight = 1.0;
        std::array<double, 3> used_y{};
        std::array<double, 3> variance{};
        std::size_t used = 0;
        std::size_t rest = way;
        for (std::size_t k = 0; k < lags.count; ++k, rest /= 3) {
            double const outlier = trust.outlier_weight[lags.path[k]];
            if (rest % 3 == 2) {
                weight *= outlier / 360.0;
                continue;
            }
            auto const& tail = tails[rest % 3];
            double const own = tail.sigma_deg * shape.spread_factor;
            double const noise = trust.noise_deg[lags.path[k]];
            weight *= (1.0 - outlier) * tail.weight;
            used_y[used] = y[k];
            variance[used++] = own * own + noise * noise / model.snapshots;
        }
        if (used == 0) {
            density += weight;
            continue;
        }
        std::span<double const> const ys{used_y.data(), used};
        std::span<double const> const variances{variance.data(), used};
        density += weight * shared_normal_density(ys, variances, common);
        if (atom.sigma_deg <= 30.0) continue;
        for (double const round : {-360.0, 360.0}) {  // a wide atom reaches round the circle
            auto turned = used_y;
            for (std::size_t k = 0; k < used; ++k) turned[k] += round;
            density += weight * shared_normal_density({turned.data(), used}, variances, common);
        }
    }
    return density;
}
}  // namespace

std::vector<LoadShape> load_shapes(plan::ServiceModel const& model, plan::SourcePhasors const& u) {
    if (model.service == plan::Service::two_phases_of_wye) return two_phase_shapes(u);
    if (model.service == plan::Service::split_phase_three_wire) return split_phase_shapes();
    if (model.service == plan::Service::high_leg_delta) return high_leg_shapes(model, u);
    return {LoadShape{}};
}

void densities_of_lags(LoadModel const& model, PathLags const& lags, PathTrust const& trust,
                       std::vector<double>& per_shape) {
    per_shape.assign(model.shapes.size(), 1.0);
    auto const all = packed(lags);
    if (all.count == 0) return;
    for (std::size_t s = 0; s < model.shapes.size(); ++s) {
        if (!model.independent_paths) {
            double density = 0.0;
            for (auto const& atom : model.load.atoms)
                density += atom.weight * lags_given_atom(model, all, model.shapes[s], atom, trust);
            per_shape[s] = density;
            continue;
        }
        for (std::size_t k = 0; k < all.count; ++k) {
            Packed one{{all.value[k]}, {all.path[k]}, 1};
            double density = 0.0;
            for (auto const& atom : model.load.atoms)
                density += atom.weight * lags_given_atom(model, one, model.shapes[s], atom, trust);
            per_shape[s] *= density;
        }
    }
}

void densities_of_sizes(LoadModel const& model, PathSizes const& sizes, std::vector<double>& per_shape) {
    per_shape.assign(model.shapes.size(), 1.0);
    auto const all = packed(sizes);
    if (all.count == 0) return;
    auto const& spread = model.spread;
    double const low = model.log_full_load + std::log(model.load.lowest_share);
    // A breaker is passed for a while now and then; a step there would be more certain than any breaker is.
    double const high = model.log_full_load + 0.1;
    double const per_unit = 1.0 / (high - low);
    for (std::size_t s = 0; s < model.shapes.size(); ++s) {
        double density = 0.0;
        for (std::size_t way = 0; way < (std::size_t{1} << all.count); ++way) {
            double weight = 1.0;
            std::array<double, 3> y{};
            std::array<double, 3> variance{};
            for (std::size_t k = 0; k < all.count; ++k) {
                bool const tail = ((way >> k) & 1U) != 0;
                double const sigma = model.shapes[s].size_factor * (tail ? spread.log_magnitude_tail : spread.log_magnitude);
                weight *= tail ? spread.log_magnitude_tail_weight : 1.0 - spread.log_magnitude_tail_weight;
                y[k] = all.value[k] - model.shapes[s].log_size_shift[all.path[k]];
                variance[k] = sigma * sigma;
            }
            if (model.independent_paths) {
                for (std::size_t k = 0; k < all.count; ++k)
                    weight *= level_density_of({&y[k], 1}, {&variance[k], 1}, low, high, per_unit);
                density += weight;
                continue;
            }
            density += weight * level_density_of({y.data(), all.count}, {variance.data(), all.count}, low, high, per_unit);
        }
        // Levels outside the range are unlikely, not impossible: a breaker rating may be wrong.
        double const astray = 1e-4;
        per_shape[s] = (1.0 - astray) * density + astray * std::pow(0.05, static_cast<double>(all.count));
    }
}

}  // namespace phasewright::diagnosis
