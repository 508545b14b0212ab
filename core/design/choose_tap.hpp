// The fuse of a voltage tap and its wire.
//   as small as practical    the lowest rating that carries what the inputs take for ever, with a quarter to
//   spare breaks                   breaking capacity >= prospective current of the panel volts rated voltage
//   >= line voltage carries                  fuse <= what the wire carries for ever survives I2t let through
//   <= k2 S2 of the wire (IEC 60364-4-43, 434.5.2, from memory), where the fuse says it the run in front of
//   it   3 m at most (IEC 60364-4-43, 433.2.2, 434.2.1, from memory); where the region goes by the 10 ft
//                            rule, the wire carries a tenth of the device in front (NEC 240.21(B)(1))
// These are arithmetic, not a permission: local codes and whoever is licensed there decide.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/design/catalogue.hpp"
#include "core/design/proposal.hpp"
#include "core/design/settings.hpp"
#include "core/plan/site.hpp"

namespace phasewright::design {

struct TapNeed {
    plan::MeteringPoint const* point = nullptr;
    plan::Panel const* panel = nullptr;
    std::optional<double> breaker_a;  // in front of the point
    plan::MeterHardware const* meter = nullptr;
    bool feeds_meter = false;  // the meter lives on the voltages that it measures
    bool ten_feet = false;     // the region goes by that rule
    plan::SizeSystem sizes = plan::SizeSystem::metric;
};
struct TapChoice {
    std::optional<plan::VoltageTap> tap;  // empty: nothing fits
    std::string words;
    std::vector<std::string> reasons;
    std::vector<std::string> assumed;
    std::vector<NotChosen> others;
    double va = 0.0;  // that flows in it, all phases
};
[[nodiscard]] TapChoice choose_tap(TapNeed const& need, Catalogue const& catalogue, Settings const& settings);

// Nothing is left to choose.
[[nodiscard]] bool is_whole(plan::VoltageTap const& tap);

}  // namespace phasewright::design
