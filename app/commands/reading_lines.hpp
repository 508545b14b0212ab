// One line of JSON becomes one reading set, strictly: docs/reference/readings.md is the contract. Nothing is
// guessed and nothing is dropped in silence: what the contract does not know is refused by name.
#pragma once
#include <expected>
#include <optional>
#include <string>
#include <string_view>

#include "core/quantity/fault.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::commands {

struct ReadLine {
    readings::ReadingSet set;
    std::string carried;  // the x_ fields as one JSON object; empty when there are none
};

// Why a line cannot be used; `fault.where` is the path of the field.
struct LineFault {
    std::optional<std::string> id;  // when it could be read
    std::string carried;
    quantity::Fault fault;
};

// Parses only; whether the numbers contradict each other is asked of readings::check afterwards.
[[nodiscard]] std::expected<ReadLine, LineFault> read_line(std::string_view line);

}  // namespace phasewright::commands
