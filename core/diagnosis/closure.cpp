#include "core/diagnosis/closure.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "core/quantity/angle.hpp"

namespace phasewright::diagnosis {

namespace {
using Complex = std::complex<double>;
constexpr double degrees_per_radian = 180.0 / std::numbers::pi;

// Relative standard uncertainty of one component of the read sum: CT and meter classes, and registers read apart.
constexpr double sum_noise = 0.02;
// Weight and relative width of a sum that is off for a reason the model does not hold: leakage, harmonics, a bad field.
constexpr double loose_weight = 0.02;
constexpr double loose_width = 0.3;
// Typical density of the third current given the other two (per unit of logarithm and radian) under the load model:
// what the constraint is divided by so that it stays a density.
constexpr double typical_third = 2.0;

Complex current_of(double log_amps, double lag_deg, double voltage_angle_deg) {
    return std::polar(std::exp(log_amps), (voltage_angle_deg - lag_deg) / degrees_per_radian);
}

double plane_density(double distance, double sigma) {
    double const z = distance / sigma;
    return std::exp(-0.5 * z * z) / (2.0 * std::numbers::pi * sigma * sigma);
}
}  // namespace

double closed_density(LoadGrid& grid, LoadReadBack const& load, std::array<double, 3> const& path_angle_deg,
                      std::size_t derived, double own, double beside) {
    auto const& lags = load.lag_deg;
    auto const& log_amps = load.log_amps;
    std::array<Complex, 3> j{};
    std::size_t known = 0;
    std::size_t hidden = 0;
    for (std::size_t path = 0; path < 3; ++path) {
        if (lags[path] && log_amps[path]) {
            j[path] = current_of(*log_amps[path], *lags[path], path_angle_deg[path]);
            ++known;
        } else {
            hidden = path;
        }
    }
    if (known < 2) return own;
    if (known == 3) {
        double const level = std::cbrt(std::abs(j[0]) * std::abs(j[1]) * std::abs(j[2]));
        double const off = std::abs(j[0] + j[1] + j[2]) / level;
        return own / typical_third *
               ((1.0 - loose_weight) * plane_density(off, sum_noise) + loose_weight * plane_density(off, loose_width));
    }
    if (lags[hidden] || log_amps[hidden]) return own;  // half known: the sum says nothing sharp
    Complex third = 0.0;
    double product = 1.0;
    for (std::size_t path = 0; path < 3; ++path)
        if (path != hidden) {
            third -= j[path];
            product *= std::abs(j[path]);
        }
    double const level = std::cbrt(product * std::max(std::abs(third), 1e-9));
    double const amps = std::max(std::abs(third), 0.05 * std::sqrt(product));
    auto all_lags = lags;
    auto all_sizes = log_amps;
    all_lags[hidden] = quantity::wrapped_deg(path_angle_deg[hidden] - std::arg(third) * degrees_per_radian);
    all_sizes[hidden] = std::log(amps);
    auto third_too = load.element;
    third_too[hidden] = derived;
    double const density = beside * grid.joint_density(all_lags, third_too, all_sizes);
    return density * degrees_per_radian * level * level / (amps * amps * typical_third);
}

}  // namespace phasewright::diagnosis
