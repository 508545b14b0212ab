// The parts of a reading set that are objects of their own: the elements of the meter, snapshots, steps,
// tests.
#pragma once
#include <string>
#include <vector>

#include "app/commands/json_fields.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::commands {

// `voltage_terminals` and `elements` of `line` override the model of the service; names go to the repair's
// words.
void read_elements(FieldReader const& line, readings::ReadingSet& set, FirstFault& fault);
void read_branches(FieldReader const& line, readings::ReadingSet& set, FirstFault& fault);

[[nodiscard]] readings::LoadKinds read_load_kind(FieldReader const& from, readings::ReadingSet const& set,
                                                 FirstFault& fault);
[[nodiscard]] std::vector<quantity::TransformerRatio> read_ratios(FieldReader const& line,
                                                                  std::string_view name,
                                                                  plan::ServiceModel const& model);
void read_snapshots(FieldReader const& line, readings::ReadingSet& set, FirstFault& fault);
void read_steps(FieldReader const& line, readings::ReadingSet& set, FirstFault& fault);
void read_tests(FieldReader const& line, readings::ReadingSet& set, FirstFault& fault);

[[nodiscard]] std::vector<std::string> const& words_of_load_kinds();
[[nodiscard]] std::vector<std::string> const& words_of_sequences();
[[nodiscard]] std::vector<std::string> const& words_of_conductors();

}  // namespace phasewright::commands
