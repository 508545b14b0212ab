// What to measure next: the test whose possible outcomes separate the most probability of wirings that need different
// repairs, for its cost in minutes and in energised work. This is the edge-cutting rule EC2 (Golovin, Krause, Ray:
// Near-optimal Bayesian active learning with noisy observations, arXiv 1010.3091): a pair of classes counts with the
// product of their probabilities, and a test is worth the pairs it cuts.
// Opening a CT secondary under load is never proposed. While a loop may be open, only a clamp round an insulated lead is.
#pragma once
#include <optional>
#include <vector>

#include "core/diagnosis/differences.hpp"
#include "core/diagnosis/landings.hpp"
#include "core/diagnosis/observed.hpp"
#include "core/diagnosis/verdict.hpp"

namespace phasewright::diagnosis {

struct Candidate {  // a class as the tests see it
    double probability = 0.0;
    wiring::Wiring wiring;
    std::optional<double> true_p_w;
    plan::Sequence rotation = plan::Sequence::abc;
    std::string in_words;
};

struct TestSituation {
    plan::ServiceModel const& model;
    Names const& names;
    std::vector<Candidate> const& candidates;
    std::vector<bool> flowing;      // per element
    bool loop_may_be_open = false;  // then only the clamp is offered
    bool unproven = false;          // then waiting for load comes first
    bool generation_known = false;  // it was told whether generation runs
    bool generation_possible = true;
};

[[nodiscard]] std::optional<NextTest> next_test_of(TestSituation const& situation);

}  // namespace phasewright::diagnosis
