// `phasewright plan check`: everything that the rules find in a plan, one finding a line, most severe first
// (docs/reference/plan-checks.md, docs/tasks/check-a-plan.md).
#pragma once
#include <filesystem>
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

#include "core/checks/finding.hpp"

namespace phasewright::commands {

struct PlanCheckOptions {
    std::string plan_file;
    std::optional<std::filesystem::path> limits_file;
    std::optional<std::filesystem::path> profiles_folder;
    bool json = false;
    bool rules = false;  // print the page of rules instead
};

// 0: nothing was found; 1: something was; 2: the plan, its limits or a profile cannot be read.
[[nodiscard]] int plan_check_command(PlanCheckOptions const& options, std::ostream& out, std::ostream& err);

[[nodiscard]] std::string finding_line(checks::Finding const& finding);       // without an end of line
[[nodiscard]] std::string finding_json_line(checks::Finding const& finding);  // without an end of line
[[nodiscard]] std::string counts_line(checks::Counts const& counts, std::size_t points);

}  // namespace phasewright::commands
