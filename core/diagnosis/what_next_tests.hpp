// The tests that could be made at this meter, in its own words, each with what the possible wirings predict
// for it.
#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "core/diagnosis/what_next_outcomes.hpp"

namespace phasewright::diagnosis {

struct Proposal {
    NextTest test;
    Outcomes outcomes;
    double cost = 1.0;
};

// All that may be proposed while nothing is in danger; what was answered already is left out.
[[nodiscard]] std::vector<Proposal> proposals_of(TestSituation const& situation,
                                                 std::vector<Possibility> const& possible);

// A test of this kind at this place, with the catalogue's minutes, people and cautions.
[[nodiscard]] NextTest from_catalogue(std::string_view kind, std::string at, std::string what);

// The single tests of the guarded situations; their outcomes are filled in.
[[nodiscard]] NextTest clamp_in_loop(TestSituation const& situation, std::size_t input,
                                     std::vector<Possibility> const& possible);
[[nodiscard]] NextTest measure_at_source(TestSituation const& situation);
[[nodiscard]] NextTest wait_for_load();

// Writes the outcomes, their chances and what is most probable then into the test.
void tell_outcomes(NextTest& test, Outcomes const& outcomes, std::vector<Possibility> const& possible);

}  // namespace phasewright::diagnosis
