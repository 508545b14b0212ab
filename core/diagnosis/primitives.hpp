// The primitive mistakes as data: what each one does to a landing, and its odds.
#pragma once
#include <vector>

#include "core/diagnosis/landings.hpp"

namespace phasewright::diagnosis {

enum class Stage { conductor, ct, lead, terminal, setting };

enum class Deed {
    ct_on_path,       // CT `at` sits round path `other`
    ct_reverse,       // CT `at` faces the wrong way
    cts_reverse_all,
    ct_kill,          // CT `at` gives nothing: open, shorted, not on the conductor
    cts_kill_all,
    cts_exchange,     // the CTs of inputs `at` and `other`
    cts_rotate,       // by `other` places
    taps_exchange,    // terminals `at` and `other`
    taps_rotate,      // by `other` places
    tap_double,       // terminal `at` is fed by the conductor of terminal `other`
    tap_swap_neutral, // terminal `at` and the neutral terminal
    tap_to_neutral,   // terminal `at` is fed by the neutral
    neutral_to_tap,   // the neutral terminal is fed by the conductor of terminal `other`
    tap_lose,
    neutral_lose,
    ratio_set,        // input `at` (or all, when `at` is negative) has quotient `value`
};

struct Primitive {
    Stage stage{};
    Deed deed{};
    int at = 0;
    int other = 0;
    double value = 1.0;
    double odds = 0.0;
};

struct Draft {
    TapLanding tap;
    CurrentLanding current;
    RatioSetting ratio{1.0, 1.0, 1.0};
};
[[nodiscard]] Draft planned_draft(plan::ServiceModel const& model);

[[nodiscard]] std::vector<Primitive> primitives_of(plan::ServiceModel const& model, Odds const& odds,
                                                   std::span<double const> programmed);
void apply(Primitive const& primitive, plan::ServiceModel const& model, Draft& draft);

// Two primitives that cannot both be made: the same deed at the same place, or two ratio settings.
[[nodiscard]] bool exclude_each_other(Primitive const& a, Primitive const& b);

}  // namespace phasewright::diagnosis
