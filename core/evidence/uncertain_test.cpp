#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <utility>

#include "core/evidence/acceptance.hpp"
#include "core/evidence/instrument.hpp"

using namespace phasewright;
using namespace phasewright::evidence;
using doctest::Approx;

TEST_CASE(
    "few degrees of freedom widen the coverage factor as the GUM's table of Student's distribution says") {
    // JCGM 100:2008, Table G.2, column 95.45 %, to two decimals (from memory).
    for (auto const& [degrees, t] :
         {std::pair{1.0, 13.97}, std::pair{2.0, 4.53}, std::pair{3.0, 3.31}, std::pair{4.0, 2.87},
          std::pair{5.0, 2.65}, std::pair{6.0, 2.52}, std::pair{8.0, 2.37}, std::pair{10.0, 2.28},
          std::pair{20.0, 2.13}, std::pair{50.0, 2.05}}) {
        CAPTURE(degrees);
        CHECK(std::abs(coverage_factor(degrees) - t) < 0.0051);
    }
    CHECK(coverage_factor(std::nullopt) == 2.0);
    CHECK(std::abs(coverage_factor(9000.0) - 2.0) < 0.001);
}

TEST_CASE(
    "independent parts add in squares, the largest stands first, and scatter brings its degrees of freedom") {
    auto const all = uncertainty_of({{"small", 3.0, std::nullopt}, {"large", 4.0, std::nullopt}});
    CHECK(all.standard == Approx(5.0));
    CHECK(all.expanded == Approx(10.0));
    CHECK(all.parts.front().what == "large");
    // Welch and Satterthwaite by hand: 5^4 / (4^4 / 3) = 7.324
    auto const scattered = uncertainty_of({{"limit", 3.0, std::nullopt}, {"scatter", 4.0, 3.0}});
    CHECK(*scattered.degrees == Approx(625.0 / (256.0 / 3.0)));
    CHECK(scattered.coverage > 2.37);
    CHECK(scattered.coverage < 2.43);
}

TEST_CASE(
    "a reading proves conformity only with the room of its uncertainty on the right side of the limit") {
    AcceptanceLimit const two{"x",  "",  "%",
                              -2.0, 2.0, {"a standard", "2020", "1", plan::Footing::seen, false}};
    auto const u = uncertainty_of({{"all", 0.25, std::nullopt}});  // U = 0.5
    CHECK(judged(1.49, u, two).outcome == Outcome::pass);
    CHECK(judged(1.51, u, two).outcome == Outcome::not_provable);
    CHECK(judged(2.49, u, two).outcome == Outcome::not_provable);
    CHECK(judged(2.51, u, two).outcome == Outcome::fail);
    CHECK(judged(-2.51, u, two).outcome == Outcome::fail);
    CHECK(judged(1.9, u, two, 0.0).outcome == Outcome::pass);  // simple acceptance, where that is agreed
}

TEST_CASE("the probability of conformity is that of the guide's own example, a Zener diode") {
    // JCGM 106:2012, clause 7.3, example: breakdown voltage at most -5.40 V, measured -5.47 V with u = 0.05
    // V, p = Phi(1.40) = 0.92 (from memory).
    AcceptanceLimit const at_most{
        "x", "", "V", std::nullopt, -5.40, {"a specification", "1", "", plan::Footing::seen, false}};
    auto const judgement = judged(-5.47, uncertainty_of({{"all", 0.05, std::nullopt}}), at_most);
    CHECK(*judgement.within == Approx(0.92).epsilon(0.002));
    CHECK(judgement.outcome == Outcome::not_provable);
}

TEST_CASE("a limit from memory neither passes nor fails until it is confirmed, and says what it would say") {
    auto limit = *AcceptanceLimits{}.find("registration.in-service");
    auto const u = uncertainty_of({{"all", 0.1, std::nullopt}});
    auto const fails = judged(5.0, u, limit);
    CHECK(fails.outcome == Outcome::not_provable);
    CHECK(*fails.by_the_numbers == Outcome::fail);
    CHECK(fails.reason.find("memory") != std::string::npos);
    CHECK(*judged(0.1, u, limit).by_the_numbers == Outcome::pass);
    limit.source.confirmed = true;
    CHECK(judged(5.0, u, limit).outcome == Outcome::fail);
    CHECK(judged(0.1, u, limit).outcome == Outcome::pass);
    CHECK_FALSE(judged(0.1, u, limit).by_the_numbers.has_value());
}

TEST_CASE("every built-in limit has an id of its own, a source, and at least one side") {
    AcceptanceLimits const limits;
    for (auto const& limit : limits.all()) {
        CAPTURE(limit.id);
        CHECK(limits.find(limit.id) == &limit);
        CHECK_FALSE(limit.source.standard.empty());
        CHECK((limit.low || limit.high));
        CHECK_FALSE(limit.source.confirmed);
    }
}

TEST_CASE("the weighted averages of registration weigh full and light load as their formulas say") {
    AtTwoLoads const loads{.full_percent = 100.2, .light_percent = 97.2, .u_full = 0.1, .u_light = 0.2};
    // By hand: (4 * 100.2 + 97.2) / 5 = 99.6; the mean 98.7; 0.7, 0.3: 99.3; 0.75, 0.25: 99.45
    CHECK(weighted(loads, Weighting::four_to_one).percent == Approx(99.6));
    CHECK(weighted(loads, Weighting::even).percent == Approx(98.7));
    CHECK(weighted(loads, Weighting::seventy_thirty).percent == Approx(99.3));
    CHECK(weighted(loads, Weighting::seventy_five).percent == Approx(99.45));
    // One instrument errs alike at both: 0.8 * 0.1 + 0.2 * 0.2 = 0.12, and not sqrt(0.08^2 + 0.04^2)
    CHECK(weighted(loads, Weighting::four_to_one).uncertainty.standard == Approx(0.12));
    auto apart = loads;
    apart.same_instrument = false;
    CHECK(weighted(apart, Weighting::four_to_one).uncertainty.standard == Approx(std::hypot(0.08, 0.04)));
}

TEST_CASE("an instrument's limit is the sum of its three parts, and nothing is said beyond its range") {
    Accuracy const accuracy{
        .of_reading_percent = 0.5, .of_range_percent = 0.1, .digits = 3, .range = 1000.0, .last_place = 0.1};
    CHECK(*limit_at(accuracy, 200.0) == Approx(1.0 + 1.0 + 0.3));
    CHECK(*limit_at(accuracy, -200.0) == Approx(2.3));
    CHECK_FALSE(limit_at(accuracy, 1000.1).has_value());
}

TEST_CASE("a phase error costs active power as much as its tangent, 0.05 % a minute at power factor 0.5") {
    // docs/physics/chain.md, equation (12): 0.0290888 * 1.7321 = 0.050383
    CHECK(phase_limit_percent({.phase_min = 1.0}, 0.5) == Approx(0.050383).epsilon(1e-4));
    CHECK(phase_limit_percent({.phase_min = 60.0}, 1.0) == Approx(0.0));
    CHECK(phase_limit_percent({}, 0.5) == 0.0);
}

TEST_CASE("a calibration holds from its day to the day it is due, both included") {
    Instrument const clamp{.name = "clamp", .calibrated = "2026-03-02", .due = "2027-03-02"};
    CHECK(calibration_on(clamp, "2026-03-02") == Calibration::valid);
    CHECK(calibration_on(clamp, "2027-03-02T17:00:00+01:00") == Calibration::valid);
    CHECK(calibration_on(clamp, "2027-03-03") == Calibration::overdue);
    CHECK(calibration_on(clamp, "2026-03-01") == Calibration::not_yet);
    CHECK(calibration_on(clamp, "yesterday") == Calibration::not_said);
    CHECK(calibration_on({.calibrated = "2026-13-02", .due = "2027-03-02"}, "2026-05-01") ==
          Calibration::not_said);
    CHECK_FALSE(calibration_doubt(clamp, "2026-11-25").has_value());
    CHECK(calibration_doubt(clamp, "2028-01-01")->find("2027-03-02") != std::string::npos);
}
