// The other wires of a meter: what feeds it, its place on the bus, its earth.
#pragma once
#include "core/report/plan_wiring.hpp"

namespace phasewright::report {

void add_supply_and_bus(plan::Site const& site, plan::MeteringPoint const& point, MeterFacts const& meter,
                        PointWiring& wiring);

}  // namespace phasewright::report
