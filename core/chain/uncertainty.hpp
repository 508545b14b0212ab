// How limits become an uncertainty: JCGM 100:2008 (the GUM), clauses 4.3 and 5. A limit of which nothing else
// is known is a rectangular distribution, u = a / sqrt(3); what is independent adds in squares; what errs
// alike adds as it is; with a correlation coefficient r between any two of several,
//   u^2 = (1 - r) sum u_j^2 + r (sum u_j)^2           (docs/physics/chain.md, equation 15; GUM 5.2.2)
//   U = k u_c, k = 2 for about 95 % of a nearly normal result
// Clauses from memory.
#pragma once
#include <numbers>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "core/chain/citation.hpp"
#include "core/quantity/dice.hpp"

namespace phasewright::chain {

inline constexpr double rectangular_divisor = std::numbers::sqrt3;
[[nodiscard]] double u_of_rectangular(double half_width);  // a / sqrt(3)
[[nodiscard]] double u_of_triangular(double half_width);   // a / sqrt(6)
[[nodiscard]] double u_of_arcsine(double half_width);      // a / sqrt(2): a u-shaped one
[[nodiscard]] double u_of_stated(double expanded, double coverage_factor);

// Several of one kind, each with its own sign, any two of them correlated by r from 0 to 1.
[[nodiscard]] double combined_alike(std::span<double const> u, double correlation);
[[nodiscard]] double combined(std::span<double const> u);  // independent

// Welch and Satterthwaite, GUM annex G; infinite degrees of freedom are left out of the sum.
struct WithFreedom {
    double u = 0.0;
    std::optional<double> degrees;
};
[[nodiscard]] std::optional<double> effective_degrees(std::span<WithFreedom const> parts);

enum class Part { ct_ratio, ct_phase, vt_ratio, vt_phase, meter, loading, pick_up };
[[nodiscard]] std::string_view words_of(Part part);  // "the phase displacement of the current transformers"

struct Contribution {
    Part part = Part::meter;
    double limit_percent = 0.0;  // of active energy, all at their limits the same way
    double u_percent = 0.0;
    double share_of_variance = 0.0;  // 0 to 1
    Citation source;
};

struct Budget {
    std::vector<Contribution> parts;  // the largest first
    double u_percent = 0.0;           // combined
    double expanded_percent = 0.0;    // k times that
    double worst_percent = 0.0;       // every limit reached, all the same way
    double coverage_factor = 2.0;
};
// Independent of one another; fills the shares and puts the largest first.
[[nodiscard]] Budget budget_of(std::vector<Contribution> parts, double coverage_factor);

// Rectangular draws from -1 to 1, any two correlated by r: normal ones with a common part, put through their
// own distribution function. A correlation of 2 sin(pi r / 6) between those gives r between these.
void draw_alike(quantity::Dice& dice, double correlation, std::span<double> into);

}  // namespace phasewright::chain
