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

// What every density below is made of: sums over independent normals of variance own_variance_k about zero.
struct NormalSums {
    double inverse = 0.0;   // sum of 1 / variance
    double weighted = 0.0;  // sum of y / variance
    double square = 0.0;    // sum of y^2 / variance
    double determinant = 1.0;  // product of 2 pi variance
};
[[nodiscard]] inline NormalSums normal_sums(std::span<double const> y, std::span<double const> own_variance) {
    NormalSums sums;
    for (std::size_t k = 0; k < y.size(); ++k) {
        double const inverse = 1.0 / own_variance[k];
        sums.inverse += inverse;
        sums.weighted += y[k] * inverse;
        sums.square += y[k] * y[k] * inverse;
        sums.determinant *= 2.0 * std::numbers::pi * own_variance[k];
    }
    return sums;
}

// Density of y, where y_k = common + own_k, common ~ N(0, common_variance), own_k ~ N(0, own_variance_k).
// The covariance is diagonal plus rank one, so its inverse and determinant are sums (Sherman and Morrison 1950).
[[nodiscard]] inline double shared_normal_density(std::span<double const> y, std::span<double const> own_variance,
                                                  double common_variance) {
    auto const sums = normal_sums(y, own_variance);
    double const stretch = 1.0 + common_variance * sums.inverse;
    double const square = sums.square - common_variance * sums.weighted * sums.weighted / stretch;
    return std::exp(-0.5 * square) / std::sqrt(sums.determinant * stretch);
}

// Density of y, where y_k = level + own_k and the level is uniform over [low, high] with density `level_density`.
[[nodiscard]] inline double level_density_of(std::span<double const> y, std::span<double const> own_variance, double low,
                                             double high, double level_density) {
    auto const sums = normal_sums(y, own_variance);
    double const mean = sums.weighted / sums.inverse;
    double const sigma = std::sqrt(1.0 / sums.inverse);
    double const inside = 0.5 * (std::erf((high - mean) / (sigma * std::numbers::sqrt2)) -
                                 std::erf((low - mean) / (sigma * std::numbers::sqrt2)));
    double const square = sums.square - sums.weighted * sums.weighted / sums.inverse;
    return level_density * inside * std::exp(-0.5 * square) * std::sqrt(2.0 * std::numbers::pi / sums.inverse) /
           std::sqrt(sums.determinant);
}

}  // namespace phasewright::diagnosis
