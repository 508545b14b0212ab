// A reading set as a line of the contract (docs/reference/readings.md): what reading_lines.hpp reads back as
// the same set. So what a meter showed can be kept, the answer to a test can be added by hand, and the whole
// be judged again.
#pragma once
#include <string>

#include "core/readings/reading_set.hpp"

namespace phasewright::commands {

// For sets made from a plan: elements of its own (`voltage_terminals`, `elements`) are not written. `name`
// becomes x_name, which is carried along and ignored.
[[nodiscard]] std::string line_of(readings::ReadingSet const& set, std::string const& name = {});
// One snapshot alone, as it stands in such a line.
[[nodiscard]] std::string json_of_snapshot(readings::Snapshot const& snapshot);

}  // namespace phasewright::commands
