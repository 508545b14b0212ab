#include "core/evidence/point_state.hpp"

#include <doctest/doctest.h>

using namespace phasewright::evidence;

namespace {
PointEvidence whole() {
    return {.point = "Tenant 3",
            .needed_of_transformers = {"ring-out", "battery-flick"},
            .needed_of_meter = {"comparison"},
            .tests = {{Party::transformer_side, "ring-out", Outcome::pass, "2026-11-20T09:00:00Z", "Ida", ""},
                      {Party::transformer_side, "battery-flick", Outcome::pass, "2026-11-20T09:30:00Z", "Ida",
                       ""},
                      {Party::meter_side, "comparison", Outcome::pass, "2026-11-21T09:00:00Z", "Olaf", ""}},
            .signatures = {{Party::transformer_side, "Ida", "E-12", "2026-11-20T10:00:00Z"},
                           {Party::meter_side, "Olaf", "M-7", "2026-11-21T10:00:00Z"}},
            .defects = {}};
}
}  // namespace

TEST_CASE("a point is proved when both sides have passed, signed afterwards, and nothing is open") {
    auto const state = state_of(whole());
    CHECK(state.transformers.state == SideState::signed_);
    CHECK(state.meter.state == SideState::signed_);
    CHECK(state.proved);
    CHECK(state.sentence.starts_with("The metering of Tenant 3 is proved"));
    CHECK(state.sentence.find("nothing about the safety") != std::string::npos);
}

TEST_CASE("one party cannot sign for the other, and nobody before the tests are whole") {
    auto evidence = whole();
    evidence.signatures.pop_back();
    CHECK(state_of(evidence).meter.state == SideState::tested);
    CHECK_FALSE(state_of(evidence).proved);
    evidence = whole();
    evidence.tests[1].outcome = Outcome::not_provable;
    auto const state = state_of(evidence);
    CHECK(state.transformers.state == SideState::under_way);
    CHECK(state.sentence.find("not provable battery-flick") != std::string::npos);
    evidence.tests.erase(evidence.tests.begin() + 1);
    CHECK(state_of(evidence).transformers.missing.front() == "battery-flick");
    evidence.tests.clear();
    CHECK(state_of(evidence).transformers.state == SideState::not_begun);
}

TEST_CASE("a test after the signature makes it stale, and the last test of a name counts") {
    auto evidence = whole();
    evidence.tests.push_back(
        {Party::meter_side, "comparison", Outcome::fail, "2026-11-22T09:00:00Z", "Olaf", ""});
    auto state = state_of(evidence);
    CHECK(state.meter.state == SideState::stale);
    CHECK_FALSE(state.proved);
    evidence.tests.push_back(
        {Party::meter_side, "comparison", Outcome::pass, "2026-11-23T09:00:00Z", "Olaf", ""});
    evidence.signatures.push_back({Party::meter_side, "Olaf", "M-7", "2026-11-23T10:00:00Z"});
    CHECK(state_of(evidence).proved);
}

TEST_CASE(
    "open defects keep a point from being proved, those to stop come first, closed ones need a name and a "
    "time") {
    auto evidence = whole();
    evidence.defects = {{"D1", "a label is missing", DefectSeverity::mind, "Ida", "2026-11-20", "", ""}};
    CHECK(state_of(evidence).proved);
    evidence.defects.push_back(
        {"D2", "a neutral looks broken", DefectSeverity::stop, "Ida", "2026-11-20", "", ""});
    auto state = state_of(evidence);
    CHECK(state.stop);
    CHECK_FALSE(state.proved);
    CHECK(state.open.front().id == "D2");
    CHECK(state.sentence.starts_with("Stop"));
    evidence.defects[1].closed_by = "Ida";
    CHECK(state_of(evidence).stop);
    evidence.defects[1].closed_at = "2026-11-24";
    CHECK(state_of(evidence).proved);
}
