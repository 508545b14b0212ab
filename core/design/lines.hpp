// Serial lines: which meter hangs on which line, in which order the line goes through them, and their
// addresses.
//   capacity   32 unit loads less 1 for the head and 4 for the bias, as few meters as any of them is
//   documented for, 247
//              addresses, 1000 m (MODBUS over Serial Line V1.02, clauses 2.2, 3.4.2, 3.4.4)
//   lines      a meter goes on the line of the plan that has room, speaks as it does and passes nearest; what
//   finds no line
//              gets new ones: one chain through all their panels, cut where the cable is least
//              (chain_order.hpp)
//   order      one chain from the head; where places are decided, new meters are added behind the last, and a
//   shorter order
//              of all is only offered
//   address    what is set stays; else the lowest that is free on the line and is none that a meter of the
//   line is
//              delivered with, so that a new meter put in its place is never mistaken for it
#pragma once
#include <vector>

#include "core/design/distances.hpp"
#include "core/design/proposal.hpp"
#include "core/design/settings.hpp"
#include "core/plan/meter_hardware.hpp"

namespace phasewright::design {

// What is known of each point's meter, in the order of the points; null: nothing.
using Meters = std::vector<plan::MeterHardware const*>;

[[nodiscard]] double unit_loads(plan::MeterHardware const* meter);  // 1 where it is not said
[[nodiscard]] double room_for_meters(Settings const& settings);     // 32 - 1 - 4

// The format that all of them can be set to, 11 bits a character and 19 200 bit/s at most; empty: there is
// none.
[[nodiscard]] std::optional<plan::SerialFormat> common_format(Meters const& meters);

// Completes serial_line of every point whose address is to be chosen; new lines are added to the site.
[[nodiscard]] std::vector<Proposal> choose_lines(plan::Site& site, Meters const& meters, Distances& distances,
                                                 Settings const& settings);
// Completes positions, distances, terminators, bias and lengths.
[[nodiscard]] std::vector<Proposal> choose_positions(plan::Site& site, Distances& distances,
                                                     Settings const& settings);
// Completes units, for the points whose address is still to be chosen and whose line or gateway is known.
[[nodiscard]] std::vector<Proposal> choose_addresses(plan::Site& site, Meters const& meters);

[[nodiscard]] bool is_overruled(plan::MeteringPoint const& point, std::string_view what);

}  // namespace phasewright::design
