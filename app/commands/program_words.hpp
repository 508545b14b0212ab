// What phasewright program says of one meter: lines for people, and one JSON object a meter for programs.
#pragma once
#include <string>

#include "bus/program/programmer.hpp"
#include "core/plan/site.hpp"

namespace phasewright::commands {

// `would_write`: nothing was written, the rows say what would be.
[[nodiscard]] std::string program_lines(program::MeterResult const& result, std::string const& name,
                                        bool would_write);
[[nodiscard]] std::string program_json(program::MeterResult const& result, std::string const& purpose);

// Before anybody is asked to confirm.
[[nodiscard]] std::string program_cautions();

}  // namespace phasewright::commands
