// A plan as people write it (docs/reference/plan.md), and the ports that its meters turned out to have.
#pragma once
#include <expected>
#include <map>
#include <string>
#include <string_view>

#include "core/plan/site.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

// `file` is only the name that faults carry. The first mistake refuses the whole plan.
[[nodiscard]] std::expected<plan::Site, quantity::Fault> read_plan(std::string_view text,
                                                                   std::string const& file);

// The port that each point's meter turned out to have.
using Ports = std::map<std::string, int>;
[[nodiscard]] std::string ports_text(Ports const& ports);

// Fills the ports that the plan left at 0; a point whose port is still 0 afterwards is a fault, and so is a
// port for a point that the plan does not have.
[[nodiscard]] std::expected<void, quantity::Fault> fill_ports(plan::Site& site, std::string_view text,
                                                              std::string const& file);

}  // namespace phasewright::commands
