#include "core/evidence/uncertain.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>

#include "core/chain/uncertainty.hpp"

namespace phasewright::evidence {

namespace {
constexpr double share_within_two = 0.954499736103642;  // of a normal distribution
constexpr double many_degrees = 1e4;

// The integral of cos(x)^power from 0 to `end`, by Simpson's rule.
double integral_of_cosine_power(double power, double end) {
    constexpr int steps = 2000;  // even
    double const h = end / steps;
    auto const f = [&](double x) { return std::pow(std::max(0.0, std::cos(x)), power); };
    double sum = f(0.0) + f(end);
    for (int k = 1; k < steps; ++k) sum += (k % 2 == 1 ? 4.0 : 2.0) * f(k * h);
    return sum * h / 3.0;
}
}  // namespace

double coverage_factor(std::optional<double> degrees) {
    if (!degrees || *degrees > many_degrees) return 2.0;
    // With t = sqrt(nu) tan(x), Student's density becomes cos(x)^(nu - 1): its share within t is a quotient
    // of two integrals, and needs no gamma function.
    double const nu = std::max(1.0, *degrees);
    double const whole = integral_of_cosine_power(nu - 1.0, std::numbers::pi / 2.0);
    double low = 0.0;
    double high = std::numbers::pi / 2.0;
    for (int k = 0; k < 60; ++k) {
        double const middle = 0.5 * (low + high);
        (integral_of_cosine_power(nu - 1.0, middle) < share_within_two * whole ? low : high) = middle;
    }
    return std::sqrt(nu) * std::tan(0.5 * (low + high));
}

Uncertainty uncertainty_of(std::vector<Share> parts) {
    Uncertainty all;
    std::vector<double> u;
    std::vector<chain::WithFreedom> with_freedom;
    for (auto const& part : parts) {
        u.push_back(part.u);
        with_freedom.push_back({part.u, part.degrees});
    }
    std::ranges::stable_sort(parts, std::greater{}, &Share::u);
    all.parts = std::move(parts);
    all.standard = chain::combined(u);
    all.degrees = chain::effective_degrees(with_freedom);
    all.coverage = coverage_factor(all.degrees);
    all.expanded = all.coverage * all.standard;
    return all;
}

Scatter scatter_of(std::span<double const> readings) {
    Scatter of;
    auto const n = static_cast<double>(readings.size());
    for (double const one : readings) of.mean += one / n;
    double squares = 0.0;
    for (double const one : readings) squares += (one - of.mean) * (one - of.mean);
    of.degrees = n - 1.0;
    if (readings.size() > 1) of.sd = std::sqrt(squares / of.degrees);
    of.u_of_mean = of.sd / std::sqrt(n);
    return of;
}

double below(double z) { return 0.5 * std::erfc(-z / std::numbers::sqrt2); }

}  // namespace phasewright::evidence
