// The ways of a panel as its schedule and its one-line show them: those of the panel's own map, and those
// that a metering point names.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/plan/site.hpp"

namespace phasewright::report {

struct PlannedWay {
    std::string way;
    std::vector<plan::Conductor> conductors;
    std::optional<double> breaker_a;
    std::string name;
    plan::MeteringPoint const* point = nullptr;  // whose meter stands here
    std::string branch;                          // of that point
    std::string feeds;                           // name of a panel
};

// In the order of their numbers. `incoming` is left out: the point whose meter sees the whole panel.
[[nodiscard]] std::vector<PlannedWay> ways_of(plan::Site const& site, plan::Panel const& panel,
                                              plan::MeteringPoint const* incoming);

// The point of this panel under which others of the same panel stand in the meter tree; null: none.
[[nodiscard]] plan::MeteringPoint const* incoming_point(plan::Site const& site, plan::Panel const& panel);

}  // namespace phasewright::report
