// The meter itself: numbers from samples, and no idea of what is connected to it.
//   V = sqrt(mean v^2)   P = mean(v i)   Q = mean(v(t - T/4) i)   angle from sum x e^{-j 2 pi f t}
// Definitions: IEEE Std 1459-2010; the quarter-period form of Q is that of the fundamental when one of the
// two is sinusoidal. Total S is sqrt(P^2 + Q^2) of the totals (vector apparent power).
#pragma once
#include "bus/twin/terminals.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::twin {

// `starting_a`: below it, a current's angle and distortion are not shown; meters do not count there either.
[[nodiscard]] readings::Snapshot measured(plan::ServiceModel const& model, Inputs const& inputs,
                                          double starting_a);

inline constexpr double refresh_s = 0.5;  // a meter measures this often and holds its numbers in between
inline constexpr double starting_share = 0.0005;  // of the programmed primary current: the starting current

// What the meter of one point shows at a moment. The same truth, seed and half second give the same numbers.
[[nodiscard]] readings::Snapshot shown_at(plan::ServiceModel const& model, Supply const& supply,
                                          WiredPoint const& wired, std::uint64_t seed, double time_s);

}  // namespace phasewright::twin
