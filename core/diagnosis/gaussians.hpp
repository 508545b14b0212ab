// The closed forms behind the likelihood: normals that share one common term.
#pragma once
#include <cmath>
#include <numbers>
#include <span>

namespace phasewright::diagnosis {

[[nodiscard]] inline double normal_density(double deviation, double sigma) {
    double const z = deviation / sigma;
    return std::exp(-0.5 * z * z) / (sigma * std::sqrt(2.0 * std::numbers::pi));
}

// Density of y, where y_k = common + own_k, common ~ N(0, common_variance), own_k ~ N(0, own_variance_k).
// The covariance is diagonal plus rank one, so its inverse and determinant are sums (Sherman and Morrison 1950).
[[nodiscard]] inline double shared_normal_density(std::span<double const> y, std::span<double const> own_variance,
                                                  double common_variance) {
    double inverse_sum = 0.0;
    double weighted_sum = 0.0;
    double square_sum = 0.0;
    double determinant = 1.0;
    for (std::size_t k = 0; k < y.size(); ++k) {
        double const inverse = 1.0 / own_variance[k];
        inverse_sum += inverse;
        weighted_sum += y[k] * inverse;
        square_sum += y[k] * y[k] * inverse;
        determinant *= 2.0 * std::numbers::pi * own_variance[k];
    }
    double const stretch = 1.0 + common_variance * inverse_sum;
    double const square = square_sum - common_variance * weighted_sum * weighted_sum / stretch;
    return std::exp(-0.5 * square) / std::sqrt(determinant * stretch);
}

// Density of y, where y_k = level + own_k and the level is uniform over [low, high] with density `level_density`.
[[nodiscard]] inline double level_density_of(std::span<double const> y, std::span<double const> own_variance,
                                             double low, double high, double level_density) {
    double inverse_sum = 0.0;
    double weighted_sum = 0.0;
    double square_sum = 0.0;
    double determinant = 1.0;
    for (std::size_t k = 0; k < y.size(); ++k) {
        double const inverse = 1.0 / own_variance[k];
        inverse_sum += inverse;
        weighted_sum += y[k] * inverse;
        square_sum += y[k] * y[k] * inverse;
        determinant *= 2.0 * std::numbers::pi * own_variance[k];
    }
    double const mean = weighted_sum / inverse_sum;
    double const sigma = std::sqrt(1.0 / inverse_sum);
    double const inside = 0.5 * (std::erf((high - mean) / (sigma * std::numbers::sqrt2)) -
                                 std::erf((low - mean) / (sigma * std::numbers::sqrt2)));
    double const square = square_sum - weighted_sum * weighted_sum / inverse_sum;
    return level_density * inside * std::exp(-0.5 * square) * std::sqrt(2.0 * std::numbers::pi / inverse_sum) /
           std::sqrt(determinant);
}

}  // namespace phasewright::diagnosis
