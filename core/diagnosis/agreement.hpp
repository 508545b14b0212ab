// Readings that contradict each other: then no wiring explains them, and no verdict is given.
// Only what no wiring mistake can do counts: power beyond volts times amperes, a line voltage longer than the two
// phase voltages it stands between, a total that is no sum of its parts.
#pragma once
#include <vector>

#include "core/diagnosis/verdict.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::diagnosis {

[[nodiscard]] std::vector<Disagreement> disagreements_of(readings::ReadingSet const& set);

}  // namespace phasewright::diagnosis
