// The bus in a plan file: gateways, serial lines, and where on them a meter answers (docs/reference/plan.md).
#pragma once
#include <string>

#include "bus/tables/table.hpp"
#include "core/plan/site.hpp"

namespace phasewright::commands {

[[nodiscard]] plan::Gateway read_gateway(tables::Table const& table);
[[nodiscard]] plan::SerialLine read_serial_line(tables::Table const& table, plan::Site const& site);
// `site` has its gateways and serial lines already.
[[nodiscard]] plan::BusAddress read_address(tables::Table const& table, plan::Site const& site);

// The place on the bus as a text that is the same for the same place; ports that are chosen later never clash.
[[nodiscard]] std::string place_of(plan::MeteringPoint const& point);

}  // namespace phasewright::commands
