// What a search found, as lines for people and as JSON, and against the plan.
#pragma once
#include <string>
#include <vector>

#include "app/commands/bus_find_command.hpp"

namespace phasewright::commands {

struct AgainstPlan {
    std::vector<plan::MeteringPoint const*> by_device;  // the point of each found device, or null: not planned
    std::vector<plan::MeteringPoint const*> missing;    // planned, and silent
    std::vector<std::string> differences;               // another format or serial number than planned
};
[[nodiscard]] AgainstPlan against_plan(finder::Found const& found, FindTarget const& target);

[[nodiscard]] std::string found_lines(finder::Found const& found, FindTarget const& target, std::size_t width);
[[nodiscard]] std::string found_json(finder::Found const& found, FindTarget const& target);  // one line

}  // namespace phasewright::commands
