// Instrument transformers, leads, voltage taps and control supplies (docs/reference/plan.md).
#pragma once
#include "bus/tables/table.hpp"
#include "core/plan/site.hpp"

namespace phasewright::commands {

[[nodiscard]] plan::CurrentTransformer read_ct(tables::Table const& table);
[[nodiscard]] plan::VoltageTransformer read_voltage_transformer(tables::Table const& table);
[[nodiscard]] plan::Lead read_lead(tables::Table const& table);
[[nodiscard]] plan::VoltageTap read_tap(tables::Table const& table);
// `site` has its panels.
[[nodiscard]] plan::ControlSupply read_control_supply(tables::Table const& table, plan::Site const& site);
// `site` has its control supplies.
[[nodiscard]] plan::SupplyFeed read_supply_feed(tables::Table const& table, plan::Site const& site);

}  // namespace phasewright::commands
