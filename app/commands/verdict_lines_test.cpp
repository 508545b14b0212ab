#include "app/commands/verdict_lines.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include <nlohmann/json.hpp>

using namespace phasewright;
using commands::feeds_of;
using commands::verdict_line;

namespace {
plan::ServiceModel const wye = plan::model_of(plan::Service::four_wire_wye);

diagnosis::Verdict one_reversed() {
    auto wiring = wiring::as_planned(wye);
    wiring.current[1].sign = -1;
    diagnosis::Verdict verdict{.id = "tenant-3", .state = diagnosis::State::mistake};
    diagnosis::WiringMember const member{wiring,
                                         1.0,
                                         "L2 current is reversed",
                                         {{"exchange S1 and S2", {"live work"}, "load off", "+8.15 kW"}},
                                         ""};
    diagnosis::TruePower const power{26300.123456, 11200.0, 26000.0, 26600.0, std::nullopt, std::nullopt, ""};
    verdict.classes = {{0.99876543219,
                        "L2 current is reversed",
                        {member},
                        power,
                        diagnosis::EnergyLaw::exact,
                        1.0 / 3.0,
                        false}};
    verdict.true_power = power;
    verdict.left_out_probability = 1.0 - 0.99876543219;
    verdict.findings = {{diagnosis::Severity::mend, "L2 current is reversed"}};
    verdict.given = {{{"as_planned_at_least", 0.95}}, {{"flow", "import"}}, {"skew_s"}};
    return verdict;
}
}  // namespace

TEST_CASE("a verdict is one line with the contract's fields in their order") {
    auto const line = verdict_line(one_reversed(), wye);
    CHECK(line.find('\n') == std::string::npos);
    CHECK(
        line ==
        R"({"id":"tenant-3","contract":1,"state":"mistake","classes":[{"probability":0.998765,"in_words":"L2 current is reversed",)"
        R"("wirings":[{"voltage":["a","b","c"],"neutral":"n","current":["+a","-b","+c"],"ratio":[1.0,1.0,1.0],)"
        R"("in_words":"L2 current is reversed","repair":[{"move":"exchange S1 and S2","cautions":["live work"],"before":"load off","then":"+8.15 kW"}],"hazard":null}],)"
        R"("repair":[{"move":"exchange S1 and S2","cautions":["live work"],"before":"load off","then":"+8.15 kW"}],)"
        R"("true_power":{"p":26300.1,"q":11200.0,"p05":26000.0,"p95":26600.0,"q05":null,"q95":null,"why":null},"energy_law":"exact"}],)"
        R"("left_out_probability":0.001235,"true_power":{"p":26300.1,"q":11200.0,"p05":26000.0,"p95":26600.0,"q05":null,"q95":null,"why":null},)"
        R"("findings":[{"severity":"mend","text":"L2 current is reversed"}],"next_test":null,)"
        R"("given":{"numbers":{"as_planned_at_least":0.95},"facts":{"flow":"import"},"unused":["skew_s"]}})");
}

TEST_CASE("contradictory readings have disagreements and no classes") {
    auto verdict = one_reversed();
    verdict.state = diagnosis::State::contradictory;
    verdict.disagreements = {{"snapshots[0].p", "9000 W", "at most 4000 W"}};
    auto const line = nlohmann::json::parse(verdict_line(verdict, wye));
    CHECK(line["classes"].empty());
    CHECK(line["disagreements"][0]["field"] == "snapshots[0].p");
    CHECK_FALSE(nlohmann::json::parse(verdict_line(one_reversed(), wye)).contains("disagreements"));
}

TEST_CASE("a test's place comes out in the form in which its answer goes in") {
    auto verdict = one_reversed();
    verdict.next_test =
        diagnosis::NextTest{.kind = "clamp_primary", .at = "CT2", .who = "a licensed person", .minutes = 5.0};
    verdict.next_test->outcomes = {{"about 38 A", 0.9, "the CT is sound"}};
    auto const place = [&](std::string const& at) {
        verdict.next_test->at = at;
        return nlohmann::json::parse(verdict_line(verdict, wye))["next_test"]["at"].dump();
    };
    CHECK(place("CT2") == R"({"ct":"CT2"})");
    CHECK(place("b") == R"({"conductor":"b"})");
    CHECK(place("V1") == R"({"terminal":"V1"})");
    CHECK(place("") == "null");
}

TEST_CASE("what is carried along stands at the end, and a value that is no number becomes null") {
    auto verdict = one_reversed();
    verdict.true_power.p_w = std::nan("");
    auto const line = verdict_line(verdict, wye, R"({"x_job":7})");
    CHECK(line.ends_with(R"(,"x_job":7})"));
    CHECK(nlohmann::json::parse(line)["true_power"]["p"].is_null());
}

TEST_CASE("a derived current is a signed sum of what feeds the inputs") {
    auto const model = plan::model_of(plan::Service::three_wire_two_ct);  // a and c measured, b derived
    auto wiring = wiring::as_planned(model);
    CHECK(feeds_of(wiring, model).current == std::vector<std::string>{"+a", "-a-c", "+c"});
    wiring.current[0].sign = -1;
    CHECK(feeds_of(wiring, model).current == std::vector<std::string>{"-a", "+a-c", "+c"});
    wiring.current[0].dead = true;
    CHECK(feeds_of(wiring, model).current == std::vector<std::string>{"dead", "-c", "+c"});
    wiring.current[1].dead = true;
    CHECK(feeds_of(wiring, model).current == std::vector<std::string>{"dead", "dead", "dead"});
}

TEST_CASE("a derived current carries ratios that differ in its sum") {
    auto const model = plan::model_of(plan::Service::three_wire_two_ct);
    auto wiring = wiring::as_planned(model);
    wiring.ratio = {2.0, 2.0};
    CHECK(feeds_of(wiring, model).current.at(1) == "-a-c");
    CHECK(feeds_of(wiring, model).ratio == std::vector{2.0, 2.0, 2.0});
    wiring.ratio = {2.0, 1.0};
    CHECK(feeds_of(wiring, model).current.at(1) == "-2a-c");
    CHECK(feeds_of(wiring, model).ratio == std::vector{2.0, 1.0, 1.0});
}

TEST_CASE("a fault answers with its line, its id and the four words of an error") {
    commands::LineFault const fault{
        "t", "", {"this field is not known", "volts", "\"volts\"", "v i", "did you mean \"v\"?"}};
    CHECK(
        commands::fault_line(7, fault) ==
        R"({"line":7,"id":"t","error":{"field":"volts","found":"\"volts\"","allowed":"v i","try":"did you mean \"v\"?"}})");
    CHECK(nlohmann::json::parse(commands::fault_line(1, {}))["id"].is_null());
}
