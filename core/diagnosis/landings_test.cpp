#include "core/diagnosis/landings.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <set>

using namespace phasewright;
using namespace phasewright::diagnosis;

TEST_CASE("priors sum to one, and every landing stands once") {
    for (auto const service : plan::all_services) {
        auto const landings = landings_of(plan::model_of(service), {});
        CAPTURE(plan::code_of(service));
        double sum = 0.0;
        std::set<wiring::Wiring> distinct;
        for (std::size_t h = 0; h < landings.size(); ++h) {
            sum += std::exp(landings.log_prior[h]);
            distinct.insert(wiring_of(landings, h));
        }
        CHECK(sum == doctest::Approx(1.0).epsilon(1e-9));
        CHECK(distinct.size() == landings.size());
        CHECK(wiring_of(landings, landings.planned) == wiring::as_planned(landings.model));
    }
}

TEST_CASE("the four-wire space holds more than 12 000 landings and ratios") {
    auto const landings = landings_of(plan::model_of(plan::Service::four_wire_wye), {});
    CHECK(landings.size() >= 12'000);
    CHECK(landings.sets > landings.size());  // some sets of mistakes end in the same landing
}

TEST_CASE("a landing that two sets of mistakes make carries the weight of both") {
    // Both CTs of a split-phase meter reversed: one misunderstanding, or two slips.
    Odds const odds;
    auto const landings = landings_of(plan::model_of(plan::Service::split_phase_three_wire), odds);
    for (std::size_t h = 0; h < landings.size(); ++h) {
        auto const w = wiring_of(landings, h);
        if (w.voltage != wiring::as_planned(landings.model).voltage || w.ratio != std::vector{1.0, 1.0} ||
            w.neutral != wiring::Touch::n || w.vars_turned || w.supply_neutral_broken)
            continue;
        bool reversed = true;
        for (std::size_t k = 0; k < 2; ++k)
            reversed = reversed && !w.current[k].dead && w.current[k].sign < 0 &&
                       w.current[k].conductor == landings.model.current_inputs[k];
        if (!reversed) continue;
        double const against_none = std::exp(landings.log_prior[h] - landings.log_prior[landings.planned]);
        CHECK(against_none == doctest::Approx(odds.all_cts_reversed + odds.ct_reversed * odds.ct_reversed).epsilon(0.02));
    }
}

TEST_CASE("a ratio that the meter tells and the plan does not know becomes the likely mistake") {
    std::vector<double> const programmed{0.5, 0.5, 0.5};
    auto const landings = landings_of(plan::model_of(plan::Service::four_wire_wye), {}, {.programmed = programmed});
    double half = 0.0;
    for (std::size_t h = 0; h < landings.size(); ++h)
        if (landings.ratios[landings.ratio_of[h]] == RatioSetting{0.5, 0.5, 0.5}) half += std::exp(landings.log_prior[h]);
    CHECK(half > 0.7);
}
