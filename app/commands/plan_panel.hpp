// Rooms, panels and what they stand in (docs/reference/plan.md).
#pragma once
#include "bus/tables/table.hpp"
#include "core/plan/site.hpp"

namespace phasewright::commands {

[[nodiscard]] plan::Room read_room(tables::Table const& table);
[[nodiscard]] plan::CableRun read_run(tables::Table const& table, plan::Site const& site);
// `site` has its region, its rooms and the panels that stand before this one.
[[nodiscard]] plan::Panel read_panel(tables::Table const& table, plan::Site const& site);
[[nodiscard]] plan::Cable read_cable(tables::Table const& table);

}  // namespace phasewright::commands
