// A plan as people write it (docs/reference/plan.md).
#pragma once
#include <expected>
#include <string>
#include <string_view>

#include "core/plan/site.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

// `file` is only the name that faults carry. The first mistake refuses the whole plan.
[[nodiscard]] std::expected<plan::Site, quantity::Fault> read_plan(std::string_view text,
                                                                   std::string const& file);
// The same, for those who plan: parts of a point may be "to-choose" still.
[[nodiscard]] std::expected<plan::Site, quantity::Fault> read_draft(std::string_view text,
                                                                    std::string const& file);

}  // namespace phasewright::commands
