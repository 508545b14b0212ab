#include "core/evidence/timing.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "core/evidence/acceptance.hpp"
#include "core/evidence/comparison.hpp"

using namespace phasewright;
using namespace phasewright::evidence;
using doctest::Approx;

namespace {
AcceptanceLimit confirmed(double percent) {
    return {"x", "error", "%", -percent, percent, {"a standard", "2020", "1", plan::Footing::memory, true}};
}
Instrument reference() {
    return {.name = "reference",
            .serial = "R-1",
            .accuracy = {.of_reading_percent = 0.1, .range = 100e3},
            .certificate = "C-7",
            .calibrated = "2026-03-02",
            .due = "2027-03-02"};
}
ComparisonTest comparison() {
    return {.time = "2026-11-25",
            .instrument = reference(),
            .meter_last_place = 1.0,
            .pairs = {{10050, 10000, ""}, {10058, 10000, ""}, {10042, 10000, ""}, {10050, 10000, ""}}};
}
}  // namespace

TEST_CASE("pulses and a clock give the power of the published test vectors") {
    CHECK(kh_of_constant(1600.0) == Approx(0.625));
    CHECK(seconds_per_pulse(0.625, 1.0, 100.0) == Approx(22.5));
    CHECK(power_by_pulses(7.2, 1.0, 10.0, 60.0) == Approx(4320.0));
    CHECK(power_by_pulses(1.8, 200.0 / 5.0, 10.0, 30.0) == Approx(86400.0));
}

TEST_CASE("registration, error and correction factor belong together") {
    TimingTest test{.time = "2026-11-25", .kh_wh = 1.8, .factor = 40.0, .pulses = 10.0, .seconds = 30.0};
    test.true_w = 90000.0;
    test.true_u_percent = 0.1;
    auto const result = timed(test, confirmed(2.0));
    CHECK(*result->registration_percent == Approx(96.0));
    CHECK(*result->error_percent == Approx(-4.0));
    CHECK(*result->correction_factor == Approx(1.0 / 0.96));
    // One pulse in ten is 4 % of standard uncertainty: nothing is proved by that.
    CHECK(result->judgement->outcome == Outcome::not_provable);
    test.timing = Timing::whole_pulses;
    CHECK(timed(test, confirmed(2.0))->judgement->outcome == Outcome::fail);
}

TEST_CASE("a tenth of the class needs a thousand pulses over the class index, and the time that they take") {
    TimingTest test{.kh_wh = 0.625, .pulses = 100.0, .seconds = 2250.0, .class_index = 0.5};
    auto const counted = timed(test, confirmed(0.5));
    CHECK(counted->pulses_needed == Approx(2000.0));  // derived: 100 / n <= 0.5 / 10
    CHECK(counted->seconds_needed == Approx(45000.0));
    test.timing = Timing::stopwatch;
    test.class_index = 1.0;
    // Two ends of 0.2 s below a tenth of a per cent: 400 s, 17.8 pulses of 22.5 s, so 18.
    CHECK(timed(test, confirmed(1.0))->pulses_needed == Approx(18.0));
}

TEST_CASE("a stopwatch costs its reaction at both ends, a window a pulse, a detector next to nothing") {
    TimingTest test{.kh_wh = 1.0, .pulses = 100.0, .seconds = 100.0, .clock_ppm = 0.0};
    CHECK(timed(test, confirmed(1.0))->watts_uncertainty.standard == Approx(1.0 / std::sqrt(6.0)));
    test.timing = Timing::stopwatch;
    CHECK(timed(test, confirmed(1.0))->watts_uncertainty.standard == Approx(0.2 * std::sqrt(2.0 / 3.0)));
    test.timing = Timing::whole_pulses;
    CHECK(timed(test, confirmed(1.0))->watts_uncertainty.standard == Approx(0.0));
}

TEST_CASE("the count within a window that knows nothing of the pulses scatters as the triangle says") {
    // 10.3 periods, the window beginning anywhere: counts of 10 and 11. Over all fractions f the mean of f (1
    // - f) is 1/6, the variance of a triangle of half width 1.
    double variance = 0.0;
    constexpr int fractions = 200;
    for (int f = 0; f < fractions; ++f) {
        double const periods = 10.0 + (f + 0.5) / fractions;
        for (int begin = 0; begin < fractions; ++begin) {
            double const phase = (begin + 0.5) / fractions;
            double const off = std::floor(phase + periods) - std::floor(phase) - periods;
            variance += off * off / (fractions * fractions);
        }
    }
    CHECK(variance == Approx(1.0 / 6.0).epsilon(0.001));
}

TEST_CASE("a timing test without numbers is refused, and without a sure true power proves nothing") {
    CHECK_FALSE(timed({.pulses = 0.0, .seconds = 10.0}, confirmed(1.0)).has_value());
    CHECK_FALSE(timed({.pulses = 10.0, .seconds = 0.0}, confirmed(1.0)).has_value());
    CHECK_FALSE(timed({.pulses = 10.0, .seconds = 1.0, .true_w = 0.0}, confirmed(1.0)).has_value());
    auto const unsure = timed(
        {.pulses = 1e6, .seconds = 3.6e9, .timing = Timing::whole_pulses, .true_w = 1.0}, confirmed(1.0));
    CHECK(unsure->judgement->outcome == Outcome::not_provable);
}

TEST_CASE(
    "a comparison gives the mean error with the instrument's limit whole and the scatter shrunk by the "
    "readings") {
    auto const result = compared(comparison(), confirmed(2.0));
    REQUIRE(result.has_value());
    CHECK(result->error_percent == Approx(0.5));
    CHECK(result->registration_percent == Approx(100.5));
    // By hand: 0.1 / sqrt 3 = 0.05774; last place 0.005 / sqrt 3 = 0.00289; errors 0.50 0.58 0.42 0.50: s =
    // 0.06532, s / 2 = 0.03266
    CHECK(result->uncertainty.standard ==
          Approx(std::sqrt(0.1 * 0.1 / 3 + 0.005 * 0.005 / 3 + 0.0128 / 3 / 4)));
    CHECK(result->uncertainty.coverage > 2.0);
    CHECK(result->judgement.outcome == Outcome::pass);
    CHECK(compared(comparison(), confirmed(0.3))->judgement.outcome == Outcome::fail);
    CHECK(compared(comparison(), confirmed(0.55))->judgement.outcome == Outcome::not_provable);
}

TEST_CASE("an instrument past its calibration, or a single pair, proves nothing") {
    auto test = comparison();
    test.time = "2027-03-03";
    auto const late = compared(test, confirmed(2.0));
    CHECK(late->judgement.outcome == Outcome::not_provable);
    CHECK(*late->judgement.by_the_numbers == Outcome::pass);
    test = comparison();
    test.pairs.resize(1);
    CHECK(compared(test, confirmed(2.0))->judgement.outcome == Outcome::not_provable);
}

TEST_CASE("a reference that shows nothing, or beyond its range, is refused") {
    auto test = comparison();
    test.pairs.front().reference = 0.0;
    CHECK_FALSE(compared(test, confirmed(2.0)).has_value());
    test.pairs.front().reference = 200e3;
    CHECK_FALSE(compared(test, confirmed(2.0)).has_value());
    test.pairs.clear();
    CHECK_FALSE(compared(test, confirmed(2.0)).has_value());
}

TEST_CASE("as-found and as-left are kept apart and never mixed") {
    auto const found = *compared(comparison(), confirmed(2.0));
    auto later = comparison();
    later.condition = Condition::as_left;
    later.time = "2026-11-26";
    for (auto& pair : later.pairs) pair.meter -= 50.0;
    auto const left = *compared(later, confirmed(2.0));
    auto const both = kept_apart({found, left});
    REQUIRE(both.has_value());
    CHECK(both->as_found->error_percent == Approx(0.5));
    CHECK(both->as_left->error_percent == Approx(0.0));
    CHECK(*both->change_percent == Approx(-0.5));
    CHECK_FALSE(kept_apart({found, found}).has_value());
    auto earlier = left;
    earlier.time = "2026-11-24";
    CHECK_FALSE(kept_apart({found, earlier}).has_value());
    CHECK_FALSE(kept_apart({left})->as_found.has_value());
}
