// The verdict on a line, as lines for people and as JSON.
#pragma once
#include <string>

#include "bus/linefault/verdict.hpp"

namespace phasewright::commands {

[[nodiscard]] std::string check_lines(linefault::Verdict const& verdict, std::string const& line, std::size_t width);
[[nodiscard]] std::string check_json(linefault::Verdict const& verdict, std::string const& line);  // one line

}  // namespace phasewright::commands
