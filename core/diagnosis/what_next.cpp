#include "core/diagnosis/what_next.hpp"

#include <algorithm>

#include "core/diagnosis/answers.hpp"
#include "core/diagnosis/test_catalogue.hpp"
#include "core/diagnosis/what_next_tests.hpp"
#include "core/diagnosis/what_next_value.hpp"

namespace phasewright::diagnosis {

namespace {
constexpr double current_in_loop_a = 0.002;  // what a clamp must show before a loop counts as closed
constexpr double worth_making = 1e-3;        // share of the pairs: below it a quick test is not worth a walk

std::string ct_name(std::size_t input) { return "CT" + std::to_string(input + 1); }

readings::TestAnswer const* answer_at(TestSituation const& s, std::string_view kind, std::string_view at) {
    auto const found = std::ranges::find_if(
        s.set.tests, [&](auto const& answer) { return same_place(answer, kind, at, s.set); });
    return found == s.set.tests.end() ? nullptr : &*found;
}

struct Guarded {
    bool holds = false;            // nothing else may be proposed
    std::optional<NextTest> test;  // empty: no live test is left
};

// A dead element of a current loop: the clamp, and nothing but the clamp.
Guarded loop_guard(TestSituation const& s, std::vector<Possibility> const& possible) {
    Guarded guarded;
    for (std::size_t k = 0; k < s.flowing.size(); ++k) {
        if (s.flowing[k] || loop_was_clamped(s.set, k)) continue;
        guarded.holds = true;
        if (answer_at(s, "clamp_secondary", ct_name(k)) != nullptr) continue;
        guarded.test = clamp_in_loop(s, k, possible);
        return guarded;
    }
    return guarded;
}

Guarded neutral_guard(TestSituation const& s) {
    auto const* const answer = answer_at(s, "tap_to_bus", s.names.terminals.neutral);
    if (answer == nullptr) return {true, measure_at_source(s)};
    bool const own_lead = answer->value && *answer->value > 0.05 * s.set.nominal.v_ll;
    return {!own_lead, std::nullopt};
}

std::optional<NextTest> best_test(TestSituation const& s, std::vector<Possibility> const& possible) {
    auto proposals = proposals_of(s, possible);
    // While a loop may be open, a hand comes near live parts only with a clamp; a short at the block is
    // proposed only for a loop in which the clamp has shown current.
    if (s.loop_may_be_open)
        std::erase_if(proposals, [](Proposal const& one) {
            auto const& kind = catalogued(one.test.kind);
            return kind.live && !kind.kind.starts_with("clamp_") && kind.kind != "ct_shorted";
        });
    // Tracing is the last resort: it is weighed only when no quick test is worth its walk.
    std::vector<Proposal> quick;
    std::vector<Proposal> tracing;
    for (auto& one : proposals) (one.test.kind == "lead_traced" ? tracing : quick).push_back(std::move(one));
    std::vector<Weighted> weighted;
    for (auto const& one : possible) weighted.push_back({one.weight, one.decision});
    for (auto* const list : {&quick, &tracing}) {
        if (list == &tracing && s.settled) break;
        std::vector<Askable> tests;
        for (auto const& one : *list) tests.push_back({one.cost, one.outcomes.chance});
        auto const worth = worth_of(weighted, tests);
        auto const best = best_of(worth, tests);
        if (best == tests.size()) continue;
        bool const cuts = std::ranges::any_of(worth, [](Worth const& one) { return one.cut > worth_making; });
        if (list == &quick && !cuts) continue;
        auto test = std::move((*list)[best].test);
        tell_outcomes(test, (*list)[best].outcomes, possible);
        test.gain = worth[best].score > 0.0 ? worth[best].score : worth[best].information / tests[best].cost;
        return test;
    }
    return std::nullopt;
}
}  // namespace

bool loop_was_clamped(readings::ReadingSet const& set, std::size_t input) {
    return std::ranges::any_of(set.tests, [&](auto const& answer) {
        return same_place(answer, "clamp_secondary", ct_name(input), set) && answer.value &&
               *answer.value > current_in_loop_a;
    });
}

std::optional<NextTest> next_test_of(TestSituation const& s) {
    auto const possible = possibilities_of(s);
    if (possible.empty()) return std::nullopt;
    if (s.loop_may_be_open) {
        auto guarded = loop_guard(s, possible);
        if (guarded.holds) return guarded.test;
    }
    if (s.neutral_may_be_broken && s.model.has_neutral) {
        auto guarded = neutral_guard(s);
        if (guarded.holds) return guarded.test;
    }
    bool const load_refused = std::ranges::any_of(s.set.tests, [](auto const& answer) {
        return answer.kind == "load_switched" && answer.at_what.empty() && !could_be_made(answer);
    });
    if (s.unproven && !load_refused) return wait_for_load();
    if (s.settled) return std::nullopt;
    return best_test(s, possible);
}

}  // namespace phasewright::diagnosis
