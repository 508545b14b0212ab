// The primitive mistakes as data: what each one does to its half of a landing, and its odds.
#pragma once
#include <vector>

#include "core/diagnosis/landings.hpp"

namespace phasewright::diagnosis {

enum class Stage { conductor, ct, lead, terminal, setting };

enum class CurrentDeed {
    on_path,      // CT `at` sits round path `other`
    reverse,      // CT `at` faces the wrong way
    reverse_all,
    kill,         // CT `at` gives nothing: open, shorted, not on the conductor
    kill_all,
    exchange,     // the CTs of inputs `at` and `other`
    rotate,       // by `other` places
    cross_sum,    // the loops of `at` and `other` became one, aiding
    cross_difference,
    raw_coil,     // a coil without integrator on every voltage input
    turn_vars,    // the meter's sign of reactive power
};
struct CurrentPrimitive {
    Stage stage{};
    CurrentDeed deed{};
    int at = 0;
    int other = 0;
    double odds = 0.0;
};

enum class TapDeed {
    exchange,      // terminals `at` and `other`
    rotate,        // by `other` places
    duplicate,     // terminal `at` is fed by the conductor of terminal `other`
    swap_neutral,  // terminal `at` and the neutral terminal
    to_neutral,    // terminal `at` is fed by the neutral
    neutral_to,    // the neutral terminal is fed by the conductor of terminal `other`
    lose,
    lose_neutral,
    turn_vt,       // the voltage transformer of terminal `at` is back to front
    vt_ratio,      // of all: usual_vt_ratios[other]
    two_elements,  // the meter's service setting
    break_supply_neutral,  // not a mistake of the meter's wiring at all; alone among the taps, or nobody could tell
};
struct TapPrimitive {
    Stage stage{};
    TapDeed deed{};
    int at = 0;
    int other = 0;
    double odds = 0.0;
};

struct RatioPrimitive {
    int at = -1;  // input, or all where negative
    double quotient = 1.0;
    double odds = 0.0;
};

[[nodiscard]] TapLanding planned_taps(plan::ServiceModel const& model);
[[nodiscard]] CurrentLanding planned_currents(plan::ServiceModel const& model);

[[nodiscard]] std::vector<TapPrimitive> tap_primitives(plan::ServiceModel const& model, Odds const& odds, PointFacts const& facts);
[[nodiscard]] std::vector<CurrentPrimitive> current_primitives(plan::ServiceModel const& model, Odds const& odds,
                                                               PointFacts const& facts);
// Two ratio primitives are never combined: they would be one other ratio.
[[nodiscard]] std::vector<RatioPrimitive> ratio_primitives(plan::ServiceModel const& model, Odds const& odds,
                                                           PointFacts const& facts);

void apply(TapPrimitive const& primitive, plan::ServiceModel const& model, TapLanding& tap);
void apply(CurrentPrimitive const& primitive, plan::ServiceModel const& model, CurrentLanding& current);

// Two primitives that cannot both be made: the same deed at the same place.
[[nodiscard]] bool exclude_each_other(TapPrimitive const& a, TapPrimitive const& b);
[[nodiscard]] bool exclude_each_other(CurrentPrimitive const& a, CurrentPrimitive const& b);

}  // namespace phasewright::diagnosis
