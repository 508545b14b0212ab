// What must be said beside the verdict: dangers first. A danger is named from the readings themselves, whatever the
// most probable wiring is; nothing here ever says that something is safe.
#pragma once
#include <vector>

#include "core/diagnosis/differences.hpp"
#include "core/diagnosis/observed.hpp"
#include "core/diagnosis/verdict.hpp"

namespace phasewright::diagnosis {

struct Belief {
    std::vector<double> joined_input;  // probability that the input's loop has become one with another's
    std::vector<double> dead_input;    // probability that the input gets nothing, one a current input
    double as_planned = 0.0;
    double supply_neutral_broken = 0.0;
    bool unproven = false;
};

// Probability from which a broken supply neutral is named while the volts still lie within 10 % of each other. Above that
// of other dangers: balanced motors on a slightly unbalanced supply look a little like it.
inline constexpr double neutral_named_at = 0.05;

[[nodiscard]] std::vector<Finding> findings_of(readings::ReadingSet const& set, Observed const& observed,
                                               Belief const& belief, std::vector<WiringClass> const& classes,
                                               Thresholds const& thresholds, Names const& names);

// Phase to neutral volts unequal beyond 10 % while the line volts are sound: the meter's neutral lead or the supply
// neutral is broken, and the supply is assumed.
[[nodiscard]] bool has_moved_neutral(readings::ReadingSet const& set, Observed const& observed);

// Could these three phase-to-neutral volts be the distances of one point from the corners of a sound triangle of line
// voltages? Then the neutral has moved. By Pompeiu's relation for an equilateral triangle of side s,
//     3 (v1^4 + v2^4 + v3^4 + s^4) = (v1^2 + v2^2 + v3^2 + s^2)^2,
// the side follows from the three volts; yes, when it lies within `tolerance` of `line_v`. Rather once too often: a
// lost tap with high stray volts may fit as well.
[[nodiscard]] bool fits_moved_neutral(double v1, double v2, double v3, double line_v, double tolerance);

}  // namespace phasewright::diagnosis
