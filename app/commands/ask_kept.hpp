// The line that a talk began with, as it stood in the file, with what was added to it: nothing of it is lost,
// not even a field that the talk does not look at.
#pragma once
#include <expected>
#include <string>
#include <string_view>

#include "core/quantity/fault.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::commands {

// `line` with the tests of `set`.
[[nodiscard]] std::string with_tests(std::string const& line, readings::ReadingSet const& set);

// `line` with one more snapshot, typed as the JSON object of the contract; the whole is read and checked
// again.
[[nodiscard]] std::expected<std::string, quantity::Fault> with_snapshot(std::string const& line,
                                                                        std::string_view typed);

}  // namespace phasewright::commands
