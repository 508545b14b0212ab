// The cheapest set of moves that turns a wiring into the plan, found by search (Dijkstra 1959) over what a hand can do:
// exchange two leads, move all three on, land one lead elsewhere at its far end, exchange two CT pairs, turn a pair round,
// move a CT to another conductor, bring a lost thing back. A move costs the lead ends that it touches; work at the
// conductors costs more, because it needs the panel dead. Taps and currents do not meet, so each is searched alone.
#pragma once
#include <vector>

#include "core/diagnosis/differences.hpp"

namespace phasewright::diagnosis {

// In the order in which they are to be made; what no lead move mends (ratios, settings) comes last.
[[nodiscard]] std::vector<Difference> least_moves(wiring::Wiring const& wiring, plan::ServiceModel const& model);

}  // namespace phasewright::diagnosis
