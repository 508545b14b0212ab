// What to measure next: the test whose possible outcomes separate the most probability of wirings that need
// different decisions (repair, and how the energy is recovered), for its cost in minutes, in work near live
// parts and in outage, with a look at the test after it (what_next_value.hpp). Outcomes and their chances
// come from the wirings that are still possible; docs/reference/tests.md is the catalogue. Opening a CT
// secondary is never proposed. While a loop may be open, only a clamp round an insulated lead is; the short
// at the block only after a clamp has shown current in that loop; while the neutral may be broken, only
// measuring at the source.
#pragma once
#include <optional>
#include <vector>

#include "core/diagnosis/differences.hpp"
#include "core/diagnosis/observed.hpp"
#include "core/diagnosis/priors.hpp"
#include "core/diagnosis/verdict.hpp"

namespace phasewright::diagnosis {

struct TestSituation {
    plan::ServiceModel const& model;
    Names const& names;
    readings::ReadingSet const& set;
    Observed const& observed;
    Priors const& priors;
    std::vector<WiringClass> const& classes;  // most probable first
    std::vector<bool> flowing;                // per current input
    bool loop_may_be_open = false;            // a dead element may be an open current loop
    bool neutral_may_be_broken = false;
    bool unproven = false;  // too little load: waiting for it comes first
    bool settled = false;   // one class is believed
};

[[nodiscard]] std::optional<NextTest> next_test_of(TestSituation const& situation);

// Has a clamp shown current in the loop of this input?
[[nodiscard]] bool loop_was_clamped(readings::ReadingSet const& set, std::size_t input);

}  // namespace phasewright::diagnosis
