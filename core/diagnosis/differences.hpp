// What stands between a wiring and the plan, in the fewest pieces: the common ground of the words and the repair.
#pragma once
#include <string>
#include <vector>

#include "core/plan/site.hpp"
#include "core/wiring/wiring.hpp"

namespace phasewright::diagnosis {

enum class Piece {
    taps_exchanged,     // the leads at voltage terminals `at` and `other`
    taps_rotated,       // all three; terminal t touches what belongs at another
    tap_elsewhere,      // terminal `at` touches `conductor`, which another terminal touches too
    tap_on_neutral,     // the leads at terminal `at` and at the neutral terminal are exchanged
    tap_lost,           // terminal `at`
    neutral_lost,
    neutral_elsewhere,  // the neutral terminal touches `conductor`
    inputs_exchanged,   // the CTs of inputs `at` and `other`
    inputs_rotated,
    ct_elsewhere,       // the CT of input `at` sits on `conductor`
    input_reversed,
    all_reversed,
    input_dead,
    all_dead,
    ratio_of_one,       // input `at` shows `value` times the true current
    ratio_of_all,
    loops_joined,       // the secondary loops of inputs `at` and `other` became one; `value` 1: aiding, -1: against
    raw_coil,           // on every input
    vars_turned,
    vt_reversed,        // the voltage transformer of terminal `at`
    vt_ratio,           // volts show `value` times the true ones
    two_element_setting,
    supply_neutral_broken,  // not of the meter
};

struct Difference {
    Piece piece{};
    std::size_t at = 0;
    std::size_t other = 0;
    plan::Conductor conductor = plan::Conductor::n;
    double value = 1.0;
};

[[nodiscard]] std::vector<Difference> differences_of(wiring::Wiring const& wiring, plan::ServiceModel const& model);

// The names that hands and eyes meet: terminals from the meter's profile, letters from the region.
struct Names {
    plan::TerminalNames terminals;
    plan::Region region;
    [[nodiscard]] std::string conductor(plan::Conductor c) const { return region.conductors[static_cast<std::size_t>(c)]; }
};

// "L2 current is reversed"; "wired as planned" where nothing differs.
[[nodiscard]] std::string in_words(std::vector<Difference> const& differences, wiring::Wiring const& wiring,
                                   plan::ServiceModel const& model, Names const& names);

}  // namespace phasewright::diagnosis
