// A user's own limits for the plan checks, as a file (docs/reference/plan-checks.md, "Your own limits").
#pragma once
#include <expected>
#include <string>
#include <string_view>

#include "core/checks/limits.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

// `file` is only the name that faults carry.
[[nodiscard]] std::expected<checks::Limits, quantity::Fault> read_check_limits(std::string_view text,
                                                                               std::string const& file);

}  // namespace phasewright::commands
