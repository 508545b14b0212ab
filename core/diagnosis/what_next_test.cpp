// What is proposed, and what must never be. Sites are planted with core/wiring and read by an ideal meter.
#include "core/diagnosis/what_next.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <numeric>

#include "core/diagnosis/diagnose.hpp"
#include "core/diagnosis/site_in_tests.hpp"
#include "core/diagnosis/test_catalogue.hpp"

using namespace phasewright;
using namespace phasewright::diagnosis;
using plan::Conductor;

namespace {
TestSite turned() {
    auto site = office();
    site.wired.current = {{Conductor::b, -1, false}, {Conductor::c, -1, false}, {Conductor::a, -1, false}};
    return site;
}
TestSite with_dead_input() {
    auto site = office();
    site.wired.current[2].dead = true;
    return site;
}
double sum_of_chances(NextTest const& test) {
    return std::accumulate(test.outcomes.begin(), test.outcomes.end(), 0.0,
                           [](double sum, Outcome const& outcome) { return sum + outcome.p; });
}
// A spread of sites: planned and wrong, every service.
std::vector<readings::ReadingSet> many_sets() {
    std::vector<readings::ReadingSet> sets;
    for (auto const service : plan::all_services) {
        auto const model = plan::model_of(service);
        for (int kind = 0; kind < 4; ++kind) {
            TestSite site{.service = service, .v_ln = 230.0, .wired = wiring::as_planned(model)};
            if (kind == 1) site.wired.current[0].sign = -1;
            if (kind == 2)
                for (auto& feed : site.wired.current) feed.sign = -1;
            if (kind == 3) site.wired.ratio.assign(site.wired.ratio.size(), 0.5);
            if (kind > 1) site.phi_deg = 40.0;
            auto set = read(site);
            if (kind == 2) set.flow = plan::Flow::both;
            sets.push_back(set);
        }
    }
    return sets;
}
}  // namespace

TEST_CASE("the outcomes of a proposed test sum to one, each with what is most probable then") {
    std::size_t proposed = 0;
    for (auto const& set : many_sets()) {
        CAPTURE(std::string(plan::code_of(set.service)));
        auto const verdict = diagnose(set);
        if (!verdict.next_test) continue;
        ++proposed;
        CHECK(sum_of_chances(*verdict.next_test) == doctest::Approx(1.0).epsilon(1e-6));
        for (auto const& outcome : verdict.next_test->outcomes) {
            CHECK_FALSE(outcome.if_seen.empty());
            CHECK_FALSE(outcome.then.empty());
        }
        CHECK(catalogued(verdict.next_test->kind).kind == verdict.next_test->kind);
    }
    CHECK(proposed > 5);
}

TEST_CASE(
    "nothing but the clamp is proposed while a loop may be open, and nothing after a clamp that showed no "
    "current") {
    auto set = read(with_dead_input());
    auto verdict = diagnose(set);
    REQUIRE(verdict.next_test);
    CHECK(verdict.next_test->kind == "clamp_secondary");
    CHECK(verdict.next_test->at == "CT3");
    CHECK(sum_of_chances(*verdict.next_test) == doctest::Approx(1.0).epsilon(1e-6));
    set.tests = {{.kind = "clamp_secondary", .at_what = "ct", .at = "CT3", .value = 0.0, .unit = "A"}};
    CHECK_FALSE(diagnose(set).next_test);
    set.tests = {{.kind = "clamp_secondary", .at_what = "ct", .at = "CT3"}};  // it could not be made
    CHECK_FALSE(diagnose(set).next_test);
}

TEST_CASE("the short at the block is never proposed before a clamp has shown current in that loop") {
    auto sets = many_sets();
    sets.push_back(read(turned()));
    sets.push_back(read(with_dead_input()));
    for (auto set : sets) {
        for (int step = 0; step < 6; ++step) {
            auto const verdict = diagnose(set);
            if (!verdict.next_test) break;
            CHECK(verdict.next_test->kind != "ct_shorted");
            // Whatever is proposed cannot be made here; a loop that may be open must still get the clamp and
            // no more.
            readings::TestAnswer answer{.kind = verdict.next_test->kind, .at = verdict.next_test->at};
            answer.at_what = answer.at.empty()               ? ""
                             : answer.at.starts_with("CT")   ? "ct"
                             : plan::conductor_of(answer.at) ? "conductor"
                                                             : "terminal";
            set.tests.push_back(answer);
        }
    }
    auto set = read(with_dead_input());
    set.tests = {{.kind = "clamp_secondary", .at_what = "ct", .at = "CT3", .value = 2.1, .unit = "A"}};
    CHECK(loop_was_clamped(set, 2));
    // The danger was looked at: the finding is no longer stop, and the class is settled or something else is
    // asked.
    auto const clamped = diagnose(set);
    CHECK(std::ranges::none_of(clamped.findings,
                               [](Finding const& one) { return one.severity == Severity::stop; }));
    CHECK(clamped.classes[0].in_words == "L3 current input gets nothing");
    CHECK_FALSE(loop_was_clamped(set, 0));
}

TEST_CASE("a test that was answered, or that could not be made, is not proposed again at that place") {
    auto set = read(turned());
    set.rotation = plan::Sequence::abc;
    std::vector<std::string> made;
    for (int step = 0; step < 8; ++step) {
        auto const verdict = diagnose(set);
        if (!verdict.next_test) break;
        auto const& test = *verdict.next_test;
        auto const place = test.kind + "@" + test.at;
        CAPTURE(place);
        CHECK(std::ranges::find(made, place) == made.end());
        made.push_back(place);
        readings::TestAnswer answer{.kind = test.kind, .at = test.at};
        answer.at_what = test.at.empty()               ? ""
                         : test.at.starts_with("CT")   ? "ct"
                         : plan::conductor_of(test.at) ? "conductor"
                                                       : "terminal";
        set.tests.push_back(answer);
    }
    CHECK(made.size() >= 5);
}

TEST_CASE("where export is possible and reversal is, the question about generation comes first") {
    auto site = office();
    site.wired.current = {{Conductor::a, -1, false}, {Conductor::b, -1, false}, {Conductor::c, -1, false}};
    auto set = read(site);
    set.flow = plan::Flow::both;
    auto verdict = diagnose(set);
    REQUIRE(verdict.next_test);
    CHECK(verdict.next_test->kind == "generation_stopped");
    CHECK(verdict.next_test->minutes <= 1.0);
    CHECK(verdict.next_test->who == "anyone on site");
    set.tests = {{.kind = "generation_stopped", .word = "no"}};
    verdict = diagnose(set);
    CHECK(verdict.classes[0].in_words == "all currents are reversed");
    CHECK(verdict.classes[0].probability > 0.85);  // a turn by 60 degrees and a poorer power factor are left
    REQUIRE(verdict.next_test);
    CHECK(verdict.next_test->kind != "generation_stopped");
}

TEST_CASE("too little load asks for load, unless that could not be had") {
    auto site = office();
    for (auto& amps : site.amps) amps *= 0.04;
    auto set = read(site);
    auto verdict = diagnose(set);
    REQUIRE(verdict.next_test);
    CHECK(verdict.next_test->what.find("Run the load") != std::string::npos);
    set.tests = {{.kind = "load_switched"}};
    verdict = diagnose(set);
    CHECK((!verdict.next_test || verdict.next_test->what.find("Run the load") == std::string::npos));
}

TEST_CASE(
    "a neutral that may be broken is measured at the source with a two-pole tester before anything else") {
    auto site = office();
    auto set = read(site);
    set.snapshots[0].v = {171.0, 265.0, 265.0};
    set.snapshots[0].v_ll = {399.0, 400.0, 401.0};
    for (std::size_t k = 0; k < 3; ++k) {
        set.snapshots[0].p[k] = *set.snapshots[0].v[k] * *set.snapshots[0].i[k] * 0.92;
        set.snapshots[0].q[k] = *set.snapshots[0].v[k] * *set.snapshots[0].i[k] * 0.39;
    }
    auto verdict = diagnose(set);
    REQUIRE(verdict.next_test);
    CHECK(verdict.next_test->kind == "tap_to_bus");
    CHECK(verdict.next_test->at == "N");
    CHECK(verdict.next_test->what.find("at the source with a two-pole tester") != std::string::npos);
    // The meter's own lead is sound, so the supply is broken: no further live test.
    set.tests = {{.kind = "tap_to_bus", .at_what = "terminal", .at = "N", .value = 0.3, .unit = "V"}};
    CHECK_FALSE(diagnose(set).next_test);
}

TEST_CASE("a verdict with its proposal comes within a second even on a busy machine") {
    Diagnoser diagnoser;
    auto set = read(turned());
    set.rotation = plan::Sequence::abc;
    (void)diagnoser.diagnose(set);  // the wirings of the service are enumerated once
    auto const start = std::chrono::steady_clock::now();
    auto const verdict = diagnoser.diagnose(set);
    CHECK(std::chrono::steady_clock::now() - start < std::chrono::seconds(1));
    CHECK(verdict.next_test);
}
