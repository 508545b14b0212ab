// How sure a measured number is, from what is known of each thing that went into it. JCGM 100:2008 (the GUM):
// every part becomes a standard uncertainty in the unit of the result; independent parts add in squares
// (clause 5.1.2); the result is printed as plus or minus U = k u_c (clause 6). With few readings the scatter
// itself is badly known: k then comes from Student's distribution with the effective degrees of freedom of
// Welch and Satterthwaite (annex G.4), and is larger than 2. The arithmetic is core/chain's; clauses from
// memory.
#pragma once
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace phasewright::evidence {

struct Share {
    std::string what;               // "accuracy of the reference instrument"
    double u = 0.0;                 // standard uncertainty, in the unit of the result
    std::optional<double> degrees;  // of freedom; empty: known for sure, as a limit is
};

struct Uncertainty {
    std::vector<Share> parts;  // the largest first
    double standard = 0.0;
    double coverage = 2.0;
    double expanded = 0.0;  // coverage times standard
    std::optional<double> degrees;
};
[[nodiscard]] Uncertainty uncertainty_of(std::vector<Share> parts);

// For 95.45 % of Student's distribution, whose limit for many degrees of freedom is 2.
[[nodiscard]] double coverage_factor(std::optional<double> degrees);

struct Scatter {
    double mean = 0.0;
    double sd = 0.0;         // of one reading
    double u_of_mean = 0.0;  // sd / sqrt(n)
    double degrees = 0.0;    // n - 1
};
[[nodiscard]] Scatter scatter_of(std::span<double const> readings);  // of at least one

[[nodiscard]] double below(double z);  // the share of a normal distribution below z standard deviations

}  // namespace phasewright::evidence
