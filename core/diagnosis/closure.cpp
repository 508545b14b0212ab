#include "core/diagnosis/closure.hpp"

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

// Two wires carry one current there and back, so the load's angle is that against the voltage between them, read once
// or twice, and so is its size.
constexpr double one_current_angle_deg = 1.5;
constexpr double one_current_size = 0.03;
double between_two_wires(LoadGrid& grid, LoadReadBack const& load, std::array<double, 3> const& path_angle_deg, std::size_t empty) {
    std::size_t const there = (empty + 1) % 3;
    std::size_t const back = (empty + 2) % 3;
    Complex const across = std::polar(1.0, path_angle_deg[there] / degrees_per_radian) -
                           std::polar(1.0, path_angle_deg[back] / degrees_per_radian);
    double const across_deg = std::arg(across) * degrees_per_radian;
    PathLags lag;
    PathSizes size;
    double density = 1.0;
    for (auto const path : {there, back}) {
        if (load.lag_deg[path]) {
            double const turned = *load.lag_deg[path] + across_deg - path_angle_deg[path] + (path == back ? 180.0 : 0.0);
            double const own = quantity::wrapped_deg(turned);
            if (lag[there])
                density *= normal_density(quantity::wrapped_deg(own - *lag[there]), one_current_angle_deg);
            else
                lag[there] = own;
        }
        if (!load.log_amps[path]) continue;
        if (size[there])
            density *= normal_density(*load.log_amps[path] - *size[there], one_current_size);
        else
            size[there] = load.log_amps[path];
    }
    std::array<std::size_t, 3> element{};
    element[there] = load.element[load.lag_deg[there] ? there : back];
    return density * grid.joint_density(lag, element, size);
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
    auto const empties = std::ranges::count(load.empty, true);
    if (empties == 1 && known >= 1) {
        auto const empty = static_cast<std::size_t>(std::ranges::find(load.empty, true) - load.empty.begin());
        // A loose sum here too: what `own` says, spread as wide as a sum that is off for no known reason.
        double const loose = loose_weight * plane_density(0.0, loose_width) / typical_third;
        return beside * between_two_wires(grid, load, path_angle_deg, empty) + loose * 1e-2 * own;
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
