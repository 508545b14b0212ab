// The answer to a test is a reading like any other: how likely was it under each hypothesis?
// Answers about taps depend on the tap landing alone, answers about CTs on the current landing and the ratio; a known
// load switched on between two snapshots is the difference of the two, and obeys the same N and M with a far sharper
// load than any prior gives (docs/physics/likelihood.md, section 7).
#pragma once
#include <string_view>
#include <vector>

#include "core/diagnosis/landings.hpp"
#include "core/diagnosis/observed.hpp"
#include "core/diagnosis/supply_model.hpp"

namespace phasewright::diagnosis {

// The facts that answers state outright, moved to where the inference looks for facts: the rotation at the source,
// whether generation runs.
[[nodiscard]] readings::ReadingSet with_stated_facts(readings::ReadingSet const& set);

// Answers that cannot be weighed, because their place is not one of this meter or what they compare with was not sent,
// as paths of the contract: "tests.nameplate".
[[nodiscard]] std::vector<std::string> answers_not_weighed(readings::ReadingSet const& set);

// A test that was sent without a result could not be made: it says nothing and is not proposed again.
[[nodiscard]] bool could_be_made(readings::TestAnswer const& answer);

// Was this answer given to a test of that kind at that place ("CT2", "b", "V1"; a conductor stands for its own CT)?
[[nodiscard]] bool same_place(readings::TestAnswer const& answer, std::string_view kind, std::string_view at,
                              readings::ReadingSet const& set);

// What the answers and steps in hand pin down of a hypothesis: equal for two hypotheses that predict the same answers.
[[nodiscard]] std::vector<long long> pinned_predictions(readings::ReadingSet const& set, Landings const& landings,
                                                        plan::SourcePhasors const& u, std::size_t hypothesis);

// The mean power factor of a bill, if one was told; it sharpens what is believed of the site's angle.
[[nodiscard]] std::optional<double> bill_power_factor(readings::ReadingSet const& set);

struct AnswerBasis {
    readings::ReadingSet const& set;
    Landings const& landings;
    Observed const& observed;
    std::vector<TapView> const& views;  // one a distinct tap landing
    plan::SourcePhasors const& u;
};

// Adds to `log_weight` of each hypothesis the logarithm of the density of every answer and every load step.
void weigh_answers(AnswerBasis const& basis, std::vector<double>& log_weight);

}  // namespace phasewright::diagnosis
