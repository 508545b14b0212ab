// The parts of a reading set that describe the meter: its ratios, its elements, the loads behind it.
#pragma once
#include <string_view>
#include <vector>

#include "app/commands/json_fields.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::commands {

[[nodiscard]] std::vector<quantity::TransformerRatio> read_ratios(FieldReader const& line,
                                                                  std::string_view name,
                                                                  plan::ServiceModel const& model);
// `voltage_terminals` and `elements` of `line` override the model of the service; names go to the repair's
// words.
void read_elements(FieldReader const& line, readings::ReadingSet& set, FirstFault& fault);
void read_branches(FieldReader const& line, readings::ReadingSet& set, FirstFault& fault);

}  // namespace phasewright::commands
