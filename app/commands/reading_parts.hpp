// The parts of a reading set that tell what was seen and done: snapshots, load steps, tests.
#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "app/commands/json_fields.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::commands {

[[nodiscard]] readings::LoadKinds read_load_kind(FieldReader const& from, readings::ReadingSet const& set,
                                                 FirstFault& fault);
void read_snapshots(FieldReader const& line, readings::ReadingSet& set, FirstFault& fault);
void read_steps(FieldReader const& line, readings::ReadingSet& set, FirstFault& fault);
void read_tests(FieldReader const& line, readings::ReadingSet& set, FirstFault& fault);

// "snapshots[2]"
[[nodiscard]] std::string place(std::string_view name, std::size_t k);
[[nodiscard]] std::vector<std::string> const& words_of_load_kinds();
[[nodiscard]] std::vector<std::string> const& words_of_sequences();
[[nodiscard]] std::vector<std::string> const& words_of_conductors();

}  // namespace phasewright::commands
