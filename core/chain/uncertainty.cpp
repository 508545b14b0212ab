#include "core/chain/uncertainty.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <numeric>

namespace phasewright::chain {

double u_of_rectangular(double half_width) { return std::abs(half_width) / rectangular_divisor; }
double u_of_triangular(double half_width) { return std::abs(half_width) / std::sqrt(6.0); }
double u_of_arcsine(double half_width) { return std::abs(half_width) / std::numbers::sqrt2; }
double u_of_stated(double expanded, double coverage_factor) { return std::abs(expanded) / coverage_factor; }

double combined_alike(std::span<double const> u, double correlation) {
    double const sum = std::accumulate(u.begin(), u.end(), 0.0);
    double const squares = std::inner_product(u.begin(), u.end(), u.begin(), 0.0);
    return std::sqrt(std::max(0.0, (1.0 - correlation) * squares + correlation * sum * sum));
}

double combined(std::span<double const> u) { return combined_alike(u, 0.0); }

std::optional<double> effective_degrees(std::span<WithFreedom const> parts) {
    double squares = 0.0;
    double fourths = 0.0;
    for (auto const& part : parts) {
        squares += part.u * part.u;
        if (part.degrees) fourths += std::pow(part.u, 4.0) / *part.degrees;
    }
    return fourths > 0.0 ? std::optional{squares * squares / fourths} : std::nullopt;
}

std::string_view words_of(Part part) {
    switch (part) {
        case Part::ct_ratio: return "the ratio error of the current transformers";
        case Part::ct_phase: return "the phase displacement of the current transformers";
        case Part::vt_ratio: return "the ratio error of the voltage transformers";
        case Part::vt_phase: return "the phase displacement of the voltage transformers";
        case Part::meter: return "the meter";
        case Part::loading: return "the meter's input loading the transformer";
        case Part::pick_up: return "what the leads pick up";
    }
    return "";
}

Budget budget_of(std::vector<Contribution> parts, double coverage_factor) {
    Budget budget{.parts = std::move(parts), .coverage_factor = coverage_factor};
    double variance = 0.0;
    for (auto const& part : budget.parts) {
        variance += part.u_percent * part.u_percent;
        budget.worst_percent += part.limit_percent;
    }
    for (auto& part : budget.parts)
        part.share_of_variance = variance > 0.0 ? part.u_percent * part.u_percent / variance : 0.0;
    std::ranges::stable_sort(budget.parts, std::greater{}, &Contribution::u_percent);
    budget.u_percent = std::sqrt(variance);
    budget.expanded_percent = coverage_factor * budget.u_percent;
    return budget;
}

void draw_alike(quantity::Dice& dice, double correlation, std::span<double> into) {
    if (correlation >= 1.0) {
        std::ranges::fill(into, dice.between(1.0));
        return;
    }
    if (correlation <= 0.0) {
        for (double& one : into) one = dice.between(1.0);
        return;
    }
    double const of_normal = 2.0 * std::sin(std::numbers::pi * correlation / 6.0);
    double const common = std::sqrt(of_normal) * dice.normal();
    for (double& one : into) {
        double const normal = common + std::sqrt(1.0 - of_normal) * dice.normal();
        one = std::erf(normal / std::numbers::sqrt2);  // 2 Phi(z) - 1
    }
}

}  // namespace phasewright::chain
