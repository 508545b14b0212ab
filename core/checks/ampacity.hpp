// What a copper conductor carries for ever without its insulation ageing, from two published tables. Both
// hold for one way of laying at 30 degrees C; neither is a design: the tables of the place are held against
// the edition in force.
//   mm2    IEC 60364-5-52, Table B.52.2: PVC, reference method B1, two loaded conductors (from memory)
//   AWG    NEC Table 310.16: 75 degrees C, at most three current-carrying conductors (two reprints of 2023
//   agree)
#pragma once
#include <optional>
#include <span>

#include "core/checks/limits.hpp"
#include "core/checks/rule.hpp"
#include "core/plan/conductor_size.hpp"

namespace phasewright::checks {

struct Carried {
    double amperes = 0.0;
    RuleSource source;
};
// Of the conductor's own size, or of the next thinner one in its table; empty below the table's first and for
// aluminium, which it does not have.
[[nodiscard]] std::optional<Carried> carried_by(plan::ConductorSize const& size, plan::Metal metal,
                                                Limits const& limits);

[[nodiscard]] std::span<Ampacity const> metric_ampacities();
[[nodiscard]] std::span<Ampacity const> awg_ampacities();

}  // namespace phasewright::checks
