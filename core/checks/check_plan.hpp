// Everything that a plan can be told before anyone drills: all rules over the whole plan, most severe first.
// The plan's mistakes are findings; what a plan does not say is asked for, never guessed.
#pragma once
#include <vector>

#include "core/checks/finding.hpp"
#include "core/checks/ground.hpp"
#include "core/checks/limits.hpp"

namespace phasewright::checks {

[[nodiscard]] std::vector<Finding> check_plan(plan::Site const& site, MeterLibrary const& meters,
                                              Limits const& limits = {});

}  // namespace phasewright::checks
