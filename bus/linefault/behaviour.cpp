#include "bus/linefault/behaviour.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace phasewright::linefault {

namespace {
using Row = std::array<double, kinds_of_came>;
constexpr std::array<Row, kinds_of_behaviour> table{{
    // good nothing checksum garbage late two foreign inverted other speed, behind a stray byte
    {59.0, 0.35, 0.25, 0.10, 0.10, 0.05, 0.05, 0.02, 0.02, 0.10},  // ok
    {8.30, 0.60, 0.50, 0.30, 0.03, 0.03, 0.03, 0.10, 0.03, 0.15},  // mildly disturbed
    {1.80, 1.10, 0.90, 0.80, 0.05, 0.05, 0.05, 0.15, 0.10, 0.10},  // strongly disturbed
    {0.20, 2.00, 0.80, 0.60, 0.03, 0.10, 0.04, 0.10, 0.08, 0.05},  // drowned
    {1.20, 0.05, 0.05, 0.05, 0.02, 0.02, 0.02, 0.02, 0.02, 1.20},  // left idle
    {0.05, 39.0, 0.05, 0.30, 0.10, 0.05, 0.10, 0.20, 0.05, 0.02},  // silent
    {0.05, 39.0, 0.05, 0.30, 0.10, 0.05, 0.10, 0.60, 0.05, 0.02},  // behind a crossing
    {0.25, 1.10, 0.25, 0.30, 0.02, 0.03, 0.02, 0.05, 0.03, 0.05},  // behind a half break
    {0.02, 0.20, 0.80, 0.90, 0.02, 0.30, 0.02, 0.05, 0.90, 0.02},  // mismatched, and answering
    {0.60, 0.90, 0.05, 0.05, 1.30, 0.02, 0.05, 0.01, 0.01, 0.02},  // slow
    {0.35, 0.10, 0.75, 0.80, 0.03, 1.30, 0.10, 0.05, 0.05, 0.05},  // two at once
    {1.50, 1.00, 0.20, 0.15, 0.15, 0.05, 0.05, 0.02, 0.02, 0.05},  // short of gaps
    {0.90, 0.30, 0.40, 0.50, 0.10, 0.30, 0.60, 0.05, 0.05, 0.20},  // under two masters
    {0.50, 0.50, 0.50, 0.50, 0.50, 0.50, 0.50, 0.50, 0.50, 0.50},  // anything
}};
}  // namespace

Row const& pseudo_counts(Behaviour behaviour) { return table[static_cast<std::size_t>(behaviour)]; }

namespace {
// Most devices keep the rule and stay silent when a character has the wrong parity or a frame the wrong checksum
// (MODBUS over Serial Line V1.02, 2.4.2 and 2.5.1); some do not look at parity. Common practice, no source.
constexpr double silent_when_mismatched = 0.8;

double log_of_row(Behaviour behaviour, Counts const& counts) {
    auto const& row = pseudo_counts(behaviour);
    // Rising factorials instead of gamma functions: std::lgamma writes a global.
    auto const log_rising = [](double from, int steps) {
        double sum = 0.0;
        for (int step = 0; step < steps; ++step) sum += std::log(from + step);
        return sum;
    };
    double sum = -log_rising(std::accumulate(row.begin(), row.end(), 0.0), std::accumulate(counts.begin(), counts.end(), 0));
    for (std::size_t kind = 0; kind < row.size(); ++kind) sum += log_rising(row[kind], counts[kind]);
    return sum;
}
}  // namespace

double log_likelihood(Behaviour behaviour, Counts const& counts) {
    if (behaviour != Behaviour::mismatched) return log_of_row(behaviour, counts);
    double const silent = std::log(silent_when_mismatched) + log_of_row(Behaviour::silent, counts);
    double const answering = std::log(1.0 - silent_when_mismatched) + log_of_row(behaviour, counts);
    double const more = std::max(silent, answering);
    return more + std::log(std::exp(silent - more) + std::exp(answering - more));
}

}  // namespace phasewright::linefault
