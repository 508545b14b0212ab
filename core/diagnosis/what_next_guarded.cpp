// The tests of the situations in which nothing else may be proposed, and what all proposals share.
#include <algorithm>
#include <functional>

#include "core/diagnosis/test_catalogue.hpp"
#include "core/diagnosis/what_next_tests.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::diagnosis {

NextTest from_catalogue(std::string_view kind, std::string at, std::string what) {
    auto const& entry = catalogued(kind);
    NextTest test{.kind = std::string(kind),
                  .at = std::move(at),
                  .who = std::string(entry.who),
                  .minutes = entry.minutes,
                  .what = std::move(what)};
    for (auto const caution : entry.cautions) test.cautions.emplace_back(caution);
    return test;
}

void tell_outcomes(NextTest& test, Outcomes const& outcomes, std::vector<Possibility> const& possible) {
    std::vector<Weighted> weighted;
    for (auto const& one : possible) weighted.push_back({one.weight, one.decision});
    test.outcomes.clear();
    for (std::size_t o = 0; o < outcomes.words.size(); ++o) {
        auto const left = after(weighted, outcomes.chance[o]);
        std::vector<double> by_class;
        for (std::size_t i = 0; i < possible.size(); ++i) {
            if (by_class.size() <= possible[i].of_class) by_class.resize(possible[i].of_class + 1, 0.0);
            by_class[possible[i].of_class] += left[i].weight;
        }
        auto const best = static_cast<std::size_t>(std::ranges::max_element(by_class) - by_class.begin());
        auto const listed = std::ranges::find(possible, best, &Possibility::of_class);
        double const sure = std::min(100.0 * by_class[best], 99.9);
        test.outcomes.push_back({outcomes.words[o], chance_of(weighted, outcomes.chance[o]),
                                 "most probable then: " + listed->listed->in_words + ", " +
                                     quantity::fixed(sure, sure < 99.0 ? 0 : 1) + " %"});
    }
    std::ranges::stable_sort(test.outcomes, std::greater{}, &Outcome::p);
}

NextTest clamp_in_loop(TestSituation const& s, std::size_t input, std::vector<Possibility> const& possible) {
    auto const phase = s.names.conductor(s.model.current_inputs[input]);
    auto test = from_catalogue("clamp_secondary", "CT" + std::to_string(input + 1),
                               "Clamp one insulated lead of the " + phase + " CT loop: how many amperes?");
    auto const outcomes = of_chances(possible, [&](Possibility const& one) -> WordChances {
        double const carries = one.wiring->current[input].dead ? 0.5 : s.flowing[input] ? 0.99 : 0.01;
        return {{"current flows: the loop is closed before the meter", carries},
                {"nothing: the loop is open, or the conductor unloaded", 1.0 - carries}};
    });
    tell_outcomes(test, outcomes, possible);
    for (auto& outcome : test.outcomes)
        if (outcome.if_seen.starts_with("nothing"))
            outcome.then = "stop: treat the loop as open, take the load off or de-energise the conductor";
    return test;
}

NextTest measure_at_source(TestSituation const& s) {
    auto const& name = s.names.terminals.neutral;
    auto test = from_catalogue("tap_to_bus", name,
                               "Assume that the supply neutral is broken. Measure at the source with a "
                               "two-pole tester, neutral bar to earth and to "
                               "every phase, then from the meter's terminal " +
                                   name + " to the neutral bar: how many volts between the last two?");
    test.cautions.insert(test.cautions.begin(),
                         "a broken supply neutral puts dangerous volts on everything it feeds: nobody "
                         "switches or touches a load");
    test.minutes = 5.0;
    test.outcomes = {
        {"about 0 V: the meter's own neutral lead is sound", 0.5,
         "stop: the supply neutral is broken; the network operator or the person in charge must act"},
        {"volts between them", 0.5, "the meter's own neutral lead is broken or landed elsewhere"}};
    return test;
}

NextTest wait_for_load() {
    auto test = from_catalogue(
        "load_switched", {},
        "Run the load until every phase carries more than 5 % of its CT's rating, and read again.");
    test.minutes = 10.0;
    test.outcomes = {{"the load runs", 1.0, "the readings decide"}};
    return test;
}

}  // namespace phasewright::diagnosis
