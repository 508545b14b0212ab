// Choosing current transformers: each demand by hand, and the ranking against going through all of them.
#include "core/design/choose_ct.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <random>

#include "core/chain/burden.hpp"
#include "core/chain/window_fit.hpp"
#include "core/design/parts_for_tests.hpp"

using namespace phasewright;
using namespace phasewright::design;

namespace {
struct Bench {
    plan::Panel panel = panel_400("main");
    plan::MeteringPoint point = point_in("main", "tenant");
    plan::MeterHardware meter = five_ampere_meter();
    Catalogue catalogue = small_catalogue();
    Settings settings;
    [[nodiscard]] CtRanking rank() const {
        return rank_cts({.point = &point,
                         .panel = &panel,
                         .breaker_a = point.breaker_a,
                         .load = *load_of(point, point.breaker_a, settings),
                         .meter = &meter},
                        catalogue, settings);
    }
};
bool says(CtRanking const& ranking, std::string const& model, std::string const& words) {
    return std::ranges::any_of(ranking.others, [&](NotChosen const& other) {
        return other.choice.find(model) != std::string::npos &&
               other.because.find(words) != std::string::npos;
    });
}
}  // namespace

TEST_CASE("the narrower class wins, and the next ones say by how much they lose") {
    Bench bench;
    bench.catalogue.cts = {ring("one", 100, "1", 21), ring("half-s", 100, "0.5S", 21),
                           ring("half", 100, "0.5", 21)};
    auto const ranking = bench.rank();
    REQUIRE(ranking.best.has_value());
    CHECK(ranking.best->offer->ct.model == "half-s");
    REQUIRE(ranking.others.size() == 2);
    CHECK(says(ranking, "half", "wrong by"));
    CHECK(ranking.others[0].choice.find("(half)") != std::string::npos);
}

TEST_CASE("a rated primary below the breaker is not taken (common practice), however good the class") {
    Bench bench;
    bench.catalogue.cts = {ring("fifty", 50, "0.5S", 21), ring("hundred", 100, "1", 21)};
    auto const ranking = bench.rank();
    REQUIRE(ranking.best.has_value());
    CHECK(ranking.best->offer->ct.model == "hundred");
    CHECK(says(ranking, "fifty", "below the breaker's 63 A"));
}

TEST_CASE("two cables of 12 mm need 24 mm and five percent: a window of 25 mm does not do, 26 mm does") {
    Bench bench;
    bench.point.cables_per_phase = 2;
    bench.point.cable = plan::Cable{.diameter_mm = 12.0};
    bench.catalogue.cts = {ring("narrow", 100, "0.5S", 25), ring("wide", 100, "1", 26)};
    auto const ranking = bench.rank();
    REQUIRE(ranking.best.has_value());
    CHECK(ranking.best->offer->ct.model == "wide");
    CHECK(says(ranking, "narrow", "window of 25 mm round does not take 2 cables of 12.0 mm"));
}

TEST_CASE("15 m of 2.5 mm2 are 5.56 VA at 5 A (IEC 60228): 5 VA are not enough, and 4 mm2 would be") {
    Bench bench;
    bench.catalogue.cts = {ring("five", 100, "0.5", 21, 5.0)};
    bench.point.lead = plan::Lead{.length_m = 15.0, .size = plan::ConductorSize{plan::SizeUnit::mm2, 2.5}};
    auto const refused = bench.rank();
    CHECK_FALSE(refused.best.has_value());
    CHECK(says(refused, "five", "lead, contacts and meter make 5.9"));  // 5.56 + 0.25 contacts + 0.10 meter
    bench.point.lead->size.reset();
    auto const taken = bench.rank();
    REQUIRE(taken.best.has_value());
    CHECK(plan::text_of(*taken.best->lead->size) == "4 mm2");  // 3.46 + 0.35 VA
}

TEST_CASE(
    "too little burden is outside of the class as well: a quarter of 30 VA is never reached by a short "
    "lead") {
    Bench bench;
    bench.catalogue.cts = {ring("thirty", 100, "0.5", 21, 30.0)};
    auto const ranking = bench.rank();
    CHECK_FALSE(ranking.best.has_value());
    CHECK(says(ranking, "thirty", "make only"));
}

TEST_CASE("an output that the meter's input does not take is never chosen") {
    Bench bench;
    CtOffer millivolts = ring("volts", 100, "0.2", 21);
    millivolts.ct.output = plan::CtOutput::millivolts;
    millivolts.ct.ratio.secondary = 0.333;
    bench.catalogue.cts = {millivolts};
    auto const ranking = bench.rank();
    CHECK_FALSE(ranking.best.has_value());
    CHECK(says(ranking, "volts", "do not take an output of mV"));
}

TEST_CASE("a coil is taken at its own frequency and with its own lead only") {
    Bench bench;
    bench.meter.current_inputs = {
        {.output = plan::CtOutput::coil, .rated = 0.1, .most = 0.2, .resistance = 1e6}};
    CtOffer coil = ring("coil", 600, "1", 70);
    coil.ct.output = plan::CtOutput::coil;
    coil.ct.ratio.secondary = 0.1;
    coil.rated_hz = 60.0;
    coil.own_lead_m = 2.0;
    bench.catalogue.cts = {coil};
    CHECK(says(bench.rank(), "coil", "rated at 60 Hz"));
    bench.catalogue.cts[0].rated_hz = 50.0;
    CHECK(says(bench.rank(), "coil", "not lengthened without calibrating"));  // 3 m are needed
    bench.catalogue.cts[0].own_lead_m = 3.0;
    auto const ranking = bench.rank();
    REQUIRE(ranking.best.has_value());
    CHECK_FALSE(ranking.best->lead.has_value());
}

TEST_CASE("an overload that the CT or the input does not bear is refused") {
    Bench bench;
    bench.point.breaker_a.reset();
    bench.point.most_a = 130.0;
    bench.catalogue.cts = {ring("hundred", 100, "0.5S", 21)};
    CHECK(says(bench.rank(), "hundred", "it carries 120 A for ever"));
    bench.meter.current_inputs[0].most = 6.0;
    CHECK(says(bench.rank(), "hundred", "gives 6.50 at an input that bears 6"));
}

TEST_CASE("what is chosen passes every demand and none that passes them is better, for drawn catalogues") {
    std::mt19937 dice(3);
    std::vector<std::string> const classes{"0.2S", "0.5S", "0.5", "1"};
    int chosen = 0;
    for (int k = 0; k < 200; ++k) {
        Bench bench;
        bench.point.cable = plan::Cable{.diameter_mm = 10.0 + static_cast<double>(dice() % 30)};
        for (int j = 0; j < 12; ++j)
            bench.catalogue.cts.push_back(ring(
                "r" + std::to_string(j), 20.0 * static_cast<double>(1 + dice() % 12), classes[dice() % 4],
                10.0 + static_cast<double>(dice() % 40), std::vector{1.0, 2.5, 5.0, 10.0}[dice() % 4]));
        auto const ranking = bench.rank();
        double best = 1e9;
        for (auto const& offer : bench.catalogue.cts) {
            auto only = bench;
            only.catalogue.cts = {offer};
            // Once more from the rules themselves, not through the ranking.
            bool const rated = offer.ct.ratio.primary >= 63.0;
            bool const fits =
                chain::window_fit(*offer.ct.window, std::vector{*bench.point.cable->diameter_mm}).fits;
            bool driven = false;
            for (double const mm2 : {2.5, 4.0}) {
                plan::Lead const lead{.length_m = 3.0,
                                      .size = plan::ConductorSize{plan::SizeUnit::mm2, mm2},
                                      .strands = plan::Strands::stranded};
                driven = driven || chain::burden_of(offer.ct, lead, &bench.meter.current_inputs[0]).state ==
                                       chain::BurdenState::within;
            }
            auto const alone = only.rank();
            CHECK(alone.best.has_value() == (rated && fits && driven));
            if (alone.best) best = std::min(best, alone.best->bound->over_load_percent);
        }
        CHECK(ranking.best.has_value() == (best < 1e8));
        if (ranking.best) CHECK(ranking.best->bound->over_load_percent <= best + 0.01);
        chosen += ranking.best ? 1 : 0;
    }
    CHECK(chosen > 50);
}
