// A user's own acceptance limits as a file, and the page of the built-in ones
// (docs/reference/acceptance-limits.md).
#pragma once
#include <expected>
#include <string>
#include <string_view>

#include "core/evidence/acceptance.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

// `file` is only the name that faults carry.
[[nodiscard]] std::expected<evidence::AcceptanceLimits, quantity::Fault> read_acceptance_limits(
    std::string_view text, std::string const& file);
[[nodiscard]] std::string acceptance_page();  // Markdown, from the table itself

}  // namespace phasewright::commands
