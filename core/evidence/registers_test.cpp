#include "core/evidence/registers.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "core/evidence/acceptance.hpp"
#include "core/evidence/exchange.hpp"
#include "core/evidence/no_load.hpp"
#include "core/evidence/ratio.hpp"

using namespace phasewright;
using namespace phasewright::evidence;
using doctest::Approx;

namespace {
AcceptanceLimit limit(std::string const& id, bool confirmed = true) {
    auto found = *AcceptanceLimits{}.find(id);
    if (confirmed) found.source.confirmed = true;
    return found;
}
// 10 kW for an hour, read once a minute.
AdvanceTest an_hour() {
    AdvanceTest test{.before = {0.0, 5'000'000.0},
                     .after = {3600.0, 5'010'050.0},
                     .last_place_wh = 10.0,
                     .power_u_percent = 0.2};
    for (int k = 0; k <= 60; ++k) test.powers.push_back({60.0 * k, 10'000.0});
    return test;
}
Instrument clamp(double percent) {
    return {.name = "clamp",
            .accuracy = {.of_reading_percent = percent, .range = 2000.0},
            .calibrated = "2026-03-02",
            .due = "2027-03-02"};
}
}  // namespace

TEST_CASE(
    "a register's advance is held against the integral, with its last place and the powers in the "
    "uncertainty") {
    auto const result = advanced(an_hour(), limit("advance.against-power"));
    REQUIRE(result.has_value());
    CHECK(result->integrated_wh == Approx(10'000.0));
    CHECK(result->advance_wh == Approx(10'050.0));
    CHECK(result->error_percent == Approx(0.5));
    CHECK(result->judgement.uncertainty.standard == Approx(std::hypot(0.1 / std::sqrt(6.0), 0.2)));
    CHECK(result->judgement.outcome == Outcome::pass);
    // 10 Wh below a tenth of 2 %: 5 kWh, half an hour at 10 kW
    CHECK(result->seconds_needed == Approx(1800.0));
}

TEST_CASE("the trapezoid rule is exact for a load that rises evenly, between readings too") {
    auto test = an_hour();
    for (auto& power : test.powers) power.watts = power.seconds * 10.0;  // 0 to 36 kW: 18 kWh
    test.before.seconds = 30.0;
    test.after.seconds = 3570.0;
    CHECK(advanced(test, limit("advance.against-power"))->integrated_wh ==
          Approx(10.0 * (3570.0 * 3570.0 - 900.0) / 2.0 / 3600.0));
}

TEST_CASE("a register that wrapped once, or more often, is told by the integral") {
    auto test = an_hour();
    test.before.wh = 99'995'000.0;
    test.after.wh = 5'000.0;
    test.modulus_wh = 100e6;
    auto const once = advanced(test, limit("advance.against-power"));
    CHECK(once->wraps == 1);
    CHECK(once->advance_wh == Approx(10'000.0));
    test.modulus_wh = 4'000.0;
    test.before.wh = 1'000.0;
    test.after.wh = 3'000.0;
    CHECK(advanced(test, limit("advance.against-power"))->wraps == 2);
    CHECK(advanced(test, limit("advance.against-power"))->advance_wh == Approx(10'000.0));
    test.modulus_wh.reset();
    test.after.wh = 500.0;
    CHECK(advanced(test, limit("advance.against-power"))->judgement.outcome == Outcome::not_provable);
}

TEST_CASE(
    "a gap in the powers, an unsure clock and a short time prove nothing, and a thousandfold is named") {
    auto test = an_hour();
    test.powers.erase(test.powers.begin() + 20, test.powers.begin() + 30);
    CHECK(advanced(test, limit("advance.against-power"))->judgement.outcome == Outcome::not_provable);
    test = an_hour();
    test.clock_s = 120.0;
    CHECK(advanced(test, limit("advance.against-power"))->judgement.outcome == Outcome::not_provable);
    test = an_hour();
    test.after.wh = test.before.wh + 10.0;
    test.last_place_wh = 1.0;
    auto const thousandth = advanced(test, limit("advance.against-power"));
    CHECK(thousandth->judgement.outcome == Outcome::fail);
    CHECK(thousandth->hint.find("kWh taken for Wh") != std::string::npos);
    test.after.wh = test.before.wh;
    CHECK(advanced(test, limit("advance.against-power"))->hint.find("nothing") != std::string::npos);
    test.powers.resize(2);
    CHECK_FALSE(advanced(test, limit("advance.against-power")).has_value());
    test = an_hour();
    std::swap(test.powers[1], test.powers[2]);
    CHECK_FALSE(advanced(test, limit("advance.against-power")).has_value());
}

TEST_CASE("a pulse is weighed by the register that counts beside it") {
    // 4:1 CTs on Kh 7.2 Wh: 28.8 Wh a pulse; 1000 pulses beside 28.8 kWh
    auto const right =
        pulse_weighed({.pulses = 1000, .advance_wh = 28'800, .last_place_wh = 10, .declared_wh = 28.8},
                      limit("pulse.weight"));
    CHECK(right->wh_per_pulse == Approx(28.8));
    CHECK(right->judgement.outcome == Outcome::pass);
    auto const wrong =
        pulse_weighed({.pulses = 1000, .advance_wh = 28'800, .last_place_wh = 10, .declared_wh = 7.2},
                      limit("pulse.weight"));
    CHECK(wrong->error_percent == Approx(300.0));
    CHECK(wrong->judgement.outcome == Outcome::fail);
    CHECK(pulse_weighed({.pulses = 10, .advance_wh = 288, .last_place_wh = 10, .declared_wh = 28.8},
                        limit("pulse.weight"))
              ->judgement.outcome == Outcome::not_provable);
    CHECK_FALSE(pulse_weighed({.pulses = 0}, limit("pulse.weight")).has_value());
}

TEST_CASE("a no-load test lasts four pulse periods at the starting current") {
    MeterConstants const meter{.pulses_per_kwh = 10'000, .elements = 3, .volts = 230.0, .starting_a = 0.005};
    // 240 * 10^3 / (10000 * 3 * 230 * 0.005) = 6.957 min: IEC 62052-11:2020, from memory
    CHECK(no_load_minutes(meter) == Approx(240e3 / (10'000 * 3 * 230.0 * 0.005)));
    CHECK(crept({meter, 7.0, 1}, limit("no-load.pulses"))->outcome == Outcome::pass);
    CHECK(crept({meter, 7.0, 2}, limit("no-load.pulses"))->outcome == Outcome::fail);
    CHECK(crept({meter, 1.0, 0}, limit("no-load.pulses"))->outcome == Outcome::not_provable);
    CHECK(crept({meter, 1.0, 5}, limit("no-load.pulses"))->outcome == Outcome::fail);
    CHECK(crept({meter, 7.0, 5}, limit("no-load.pulses", false))->outcome == Outcome::not_provable);
    CHECK_FALSE(crept({{.pulses_per_kwh = 0.0}, 7.0, 5}, limit("no-load.pulses")).has_value());
}

TEST_CASE("a meter that starts gives two pulses in the time of two at its starting current") {
    MeterConstants const meter{.pulses_per_kwh = 10'000, .elements = 3, .volts = 230.0, .starting_a = 0.005};
    double const two = 2.0 * starting_period_s(meter);
    CHECK(starting_period_s(meter) == Approx(3.6e6 / 10'000 / 3.45));
    auto const at = [&](double amps, double seconds, int pulses) {
        return started({meter, amps, seconds, pulses}, limit("starting.pulse-time"))->outcome;
    };
    CHECK(at(0.005, two, 2) == Outcome::pass);
    CHECK(at(0.005, 2.0 * two, 2) == Outcome::fail);
    CHECK(at(0.005, 2.0 * two, 0) == Outcome::fail);
    CHECK(at(0.005, 0.5 * two, 1) == Outcome::not_provable);
    CHECK(at(0.05, 0.1 * two, 2) == Outcome::not_provable);  // ten times the starting current
}

TEST_CASE("two clamps tell one plate from another, and a cable beside the window, but no class") {
    RatioTest test{.time = "2026-11-25",
                   .plate = {200.0, 5.0},
                   .others = {{400.0, 5.0}, {100.0, 5.0}},
                   .primary = clamp(1.5),
                   .secondary = clamp(1.5),
                   .pairs = {{80.0, 1.0}, {81.0, 1.012}, {79.0, 0.988}}};
    auto const twice = ratio_tested(test, limit("ratio.plate"));
    REQUIRE(twice.has_value());
    CHECK(twice->factor == Approx(80.0).epsilon(0.001));
    CHECK(twice->judgement.outcome == Outcome::fail);
    CHECK_FALSE(twice->candidates[0].possible);
    CHECK(twice->candidates[1].possible);
    CHECK_FALSE(twice->candidates[2].possible);
    CHECK(*twice->share_of_conductors == Approx(0.5));  // or half of the cables
    test.plate = {400.0, 5.0};
    CHECK(ratio_tested(test, limit("ratio.plate"))->judgement.outcome == Outcome::pass);
    test.turns = 2.0;  // the conductor twice through the window
    CHECK(ratio_tested(test, limit("ratio.plate"))->factor == Approx(160.0).epsilon(0.001));
    test.turns = 1.0;
    test.secondary.due = "2026-06-01";
    CHECK(ratio_tested(test, limit("ratio.plate"))->judgement.outcome == Outcome::not_provable);
    test.pairs.front().secondary = 0.0;
    CHECK(ratio_tested(test, limit("ratio.plate")).error().remedy.find("stop") != std::string::npos);
}

TEST_CASE("a meter exchange bridges both registers and says what was not written down") {
    MeterExchange exchange{.removed = {.serial = "A-1",
                                       .time = "2026-11-25T10:00:00+01:00",
                                       .import_wh = 812'340.0,
                                       .last_place_wh = 10.0},
                           .fitted = {.serial = "B-2",
                                      .time = "2026-11-25T10:30:00+01:00",
                                      .import_wh = 20.0,
                                      .last_place_wh = 10.0},
                           .seals = {{"terminal cover", "1001", SealState::removed, "", ""},
                                     {"terminal cover", "2001", SealState::fitted, "", ""}},
                           .gap_w = 4000.0,
                           .gap_w_u = 400.0};
    auto const energy = bridged(exchange, 800'000.0, 30'020.0);
    REQUIRE(energy.has_value());
    CHECK(energy->old_wh == Approx(12'340.0));
    CHECK(energy->new_wh == Approx(30'000.0));
    CHECK(*energy->gap_wh == Approx(2'000.0));
    CHECK(*energy->gap_wh_u == Approx(200.0));
    CHECK(energy->total_wh == Approx(44'340.0));
    CHECK(exchange_checked(exchange)->missing.empty());
    exchange.fitted.serial = "A-1";
    exchange.seals.pop_back();
    exchange.gap_w.reset();
    auto const check = exchange_checked(exchange);
    CHECK(check->findings.size() == 1);
    CHECK(check->missing.size() == 2);
    CHECK(bridged(exchange, 800'000.0, 30'020.0)->gap_left_out);
    CHECK_FALSE(bridged(exchange, 900'000.0, 30'020.0).has_value());
    exchange.fitted.time = "2026-11-25T09:00:00+01:00";
    CHECK_FALSE(exchange_checked(exchange).has_value());
    exchange.fitted.time = "later";
    CHECK_FALSE(exchange_checked(exchange).has_value());
}

TEST_CASE("a history of seals that does not fit is told, and one that does leaves its last numbers") {
    std::vector<Seal> history{{"cover", "1", SealState::fitted, "", ""},
                              {"cover", "1", SealState::found_whole, "", ""},
                              {"cover", "1", SealState::removed, "", ""},
                              {"cover", "2", SealState::fitted, "", ""},
                              {"block", "3", SealState::fitted, "", ""}};
    CHECK(seal_findings(history).empty());
    CHECK(seals_now(history).size() == 2);
    history.push_back({"cover", "9", SealState::found_whole, "", ""});  // not the one that was fitted
    history.push_back({"block", "4", SealState::fitted, "", ""});       // nobody took 3 off
    history.push_back({"door", "2", SealState::fitted, "", ""});        // 2 belongs at the cover
    history.push_back({"door", "", SealState::found_missing, "", ""});
    CHECK(seal_findings(history).size() == 4);
}
