#include "core/evidence/before_power.hpp"

#include <doctest/doctest.h>

#include "core/evidence/caution.hpp"
#include "core/evidence/ring_out.hpp"

using namespace phasewright;
using namespace phasewright::evidence;
using doctest::Approx;

namespace {
AcceptanceLimit limit(std::string const& id, bool confirmed = false) {
    auto found = *AcceptanceLimits{}.find(id);
    if (confirmed) found.source.confirmed = true;
    return found;
}
EarthLimits earth_limits() { return {limit("earth.connected"), limit("earth.lifted")}; }
std::vector<std::string> const marks{"1S1", "1S2", "2S1", "2S2"};
}  // namespace

TEST_CASE("leads that ring as they are marked pass, and the last one follows without being rung") {
    auto const result =
        rung_out({marks, marks, {{"1S1", "1S1", 0.3}, {"1S2", "1S2", 0.3}, {"2S1", "2S1", 0.4}}});
    REQUIRE(result.has_value());
    CHECK(result->outcome == Outcome::pass);
    CHECK(result->leads[3].far == "2S2");
    CHECK_FALSE(result->leads[3].rung);
    CHECK(result->leads[0].rung);
}

TEST_CASE("two exchanged leads are found from what is open and what rings") {
    // 1S1 is open to 1S1 and rings with 2S1; 1S2 as marked: then 2S1 here must be 1S1 there, or 2S2
    auto result =
        rung_out({marks, marks, {{"1S1", "1S1", std::nullopt}, {"1S1", "2S1", 0.3}, {"1S2", "1S2", 0.3}}});
    REQUIRE(result.has_value());
    CHECK(result->outcome == Outcome::fail);
    CHECK(result->leads[0].far == "2S1");
    CHECK_FALSE(result->leads[2].far.has_value());
    REQUIRE(result->next.has_value());
    CHECK(result->next->near == "2S1");
    result = rung_out({marks, marks, {{"1S1", "2S1", 0.3}, {"1S2", "1S2", 0.3}, {"2S2", "2S2", 0.3}}});
    CHECK(result->leads[2].far == "1S1");
    CHECK(result->findings.size() == 2);
}

TEST_CASE("open readings alone settle a permutation when only one is left") {
    std::vector<std::string> const three{"a", "b", "c"};
    auto const result = rung_out(
        {three, three, {{"a", "a", std::nullopt}, {"a", "b", std::nullopt}, {"b", "a", std::nullopt}}});
    REQUIRE(result.has_value());  // a is c; b is not a, so b is b; c is a
    CHECK(result->leads[0].far == "c");
    CHECK(result->leads[1].far == "b");
    CHECK(result->leads[2].far == "a");
}

TEST_CASE("leads that are tied, broken or doubtful are told, and never passed") {
    auto const tied = rung_out({marks, marks, {{"1S1", "1S1", 0.3}, {"1S1", "1S2", 0.3}}});
    CHECK(tied->outcome == Outcome::fail);
    CHECK_FALSE(tied->findings.empty());
    std::vector<std::string> const two{"a", "b"};
    auto const broken = rung_out({two, two, {{"a", "a", std::nullopt}, {"a", "b", std::nullopt}}});
    CHECK(broken->outcome == Outcome::not_provable);
    auto const doubtful = rung_out({two, two, {{"a", "a", 0.2}, {"b", "b", 200.0}}});
    CHECK(doubtful->outcome == Outcome::not_provable);
    CHECK(doubtful->findings.front().find("200") != std::string::npos);
    CHECK_FALSE(rung_out({two, {"a"}, {}}).has_value());
    CHECK_FALSE(rung_out({two, two, {{"a", "x", 0.2}}}).has_value());
    CHECK_FALSE(rung_out({{"a", "a"}, two, {}}).has_value());
}

TEST_CASE(
    "the plan's loop is its lead there and back with its contacts, and its burden follows from the reading") {
    plan::MeteringPoint point;
    point.ct = {.ratio = {100.0, 5.0},
                .output = plan::CtOutput::five_amperes,
                .accuracy_class = "0.5",
                .burden_va = 5.0};
    point.lead = plan::Lead{.length_m = 10.0, .size = plan::ConductorSize{plan::SizeUnit::mm2, 2.5}};
    plan::CurrentInput const input{.burden_va = 0.1};
    auto const expected = expected_loop(point, &input);
    // IEC 60228: 7.41 ohm/km at most; 20 m of it and 0.01 ohm of contacts
    CHECK(*expected.ohm == Approx(0.1482 + 0.01));
    LoopTest test{.ohm = 0.17,
                  .accuracy = {.of_reading_percent = 1.0},
                  .expected_ohm = expected.ohm,
                  .rated_a = expected.rated_a,
                  .meter_va = expected.meter_va,
                  .range = expected.range};
    auto const result = loop_tested(test, limit("loop.resistance"));
    REQUIRE(result.has_value());
    CHECK(result->tested.outcome == Outcome::pass);
    CHECK(*result->burden_va == Approx(25.0 * 0.17 + 0.1));
    CHECK(result->burden.find("within") != std::string::npos);
    test.ohm = 0.05;  // shorted before its end
    CHECK(loop_tested(test, limit("loop.resistance"))->tested.outcome == Outcome::fail);
    test.ohm = 0.4;
    auto const contact = loop_tested(test, limit("loop.resistance"));
    CHECK(contact->tested.outcome == Outcome::fail);
    CHECK(contact->burden.find("more than") != std::string::npos);
    test.leads_of_meter_ohm = 0.24;  // of the ohmmeter's own leads
    CHECK(loop_tested(test, limit("loop.resistance"))->tested.outcome == Outcome::pass);
}

TEST_CASE("an open loop is a stop before anything else") {
    auto const open = loop_tested({.ohm = std::nullopt}, limit("loop.resistance"));
    CHECK(open->tested.outcome == Outcome::fail);
    CHECK(open->tested.stop);
    CHECK_FALSE(loop_tested({.ohm = 0.1, .leads_of_meter_ohm = 0.2}, limit("loop.resistance")).has_value());
    CHECK(loop_tested({.ohm = 0.1}, limit("loop.resistance"))->tested.outcome == Outcome::not_provable);
}

TEST_CASE("insulation near its limit is not provable, and a dead short fails whatever the edition says") {
    auto const at = [](double mohm, bool confirmed) {
        return insulation_tested({.mohm = mohm, .accuracy = {.of_reading_percent = 5.0}},
                                 limit("insulation.500-v", confirmed));
    };
    CHECK(at(50.0, true)->outcome == Outcome::pass);
    CHECK(at(50.0, false)->outcome == Outcome::not_provable);  // a limit from memory
    CHECK(at(1.02, true)->outcome == Outcome::not_provable);
    CHECK(at(0.5, true)->outcome == Outcome::fail);
    CHECK(at(0.5, false)->outcome == Outcome::not_provable);
    CHECK(at(0.001, false)->outcome == Outcome::fail);
    CHECK(at(0.001, false)->stop);
    auto const beyond = insulation_tested({.most_mohm = 500.0}, limit("insulation.500-v", true));
    CHECK(beyond->outcome == Outcome::pass);
    CHECK(insulation_tested({.most_mohm = 0.5}, limit("insulation.500-v", true))->outcome ==
          Outcome::not_provable);
    auto const weak = insulation_tested({.mohm = 50.0, .test_v = 250.0}, limit("insulation.500-v", true));
    CHECK(weak->outcome == Outcome::not_provable);
}

TEST_CASE("a battery flick tells polarity only when both kicks are seen, opposite") {
    CHECK(flicked({Kick::up, Kick::down}).outcome == Outcome::pass);
    CHECK(flicked({Kick::down, Kick::up}).outcome == Outcome::fail);
    CHECK(flicked({Kick::up, Kick::up}).outcome == Outcome::not_provable);
    CHECK(flicked({Kick::up, Kick::none}).outcome == Outcome::not_provable);
    CHECK(flicked({Kick::none, Kick::none}).outcome == Outcome::not_provable);
}

TEST_CASE("a secondary is earthed once: low with its earth, high without") {
    auto const at = [](std::optional<double> with, std::optional<double> without, bool meter = true) {
        return earth_tested({.connected_ohm = with,
                             .lifted_ohm = without,
                             .meter_connected = meter,
                             .accuracy = {.of_reading_percent = 1.0}},
                            earth_limits());
    };
    CHECK(at(0.3, std::nullopt)->outcome == Outcome::pass);
    CHECK(at(0.3, 2e6)->outcome == Outcome::pass);
    auto const twice = at(0.3, 0.9, false);
    CHECK(twice->outcome == Outcome::fail);
    CHECK_FALSE(twice->stop);
    auto const never = at(std::nullopt, std::nullopt);
    CHECK(never->outcome == Outcome::fail);
    CHECK(never->stop);
    CHECK(at(4.99, std::nullopt)->outcome == Outcome::not_provable);
    CHECK(at(0.3, 0.9)->reason.find("meter") != std::string::npos);
}

TEST_CASE("every test has its cautions, and every one at a current transformer warns of its open secondary") {
    for (auto const& [test, word] : word_table(TestKind{})) {
        CAPTURE(word);
        auto const cautions = cautions_of(test);
        CHECK_FALSE(cautions.empty());
        for (auto const& caution : cautions) CHECK(caution.find("is safe") == std::string::npos);
    }
    for (auto const test : {TestKind::ring_out, TestKind::loop_resistance, TestKind::battery_flick,
                            TestKind::one_earth, TestKind::ratio_by_clamps, TestKind::ratio_by_injection,
                            TestKind::no_load, TestKind::meter_exchange}) {
        bool warned = false;
        for (auto const& caution : cautions_of(test))
            warned = warned || caution.starts_with("Never open the secondary");
        CHECK(warned);
    }
}
