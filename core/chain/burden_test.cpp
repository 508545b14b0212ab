#include "core/chain/burden.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

using namespace phasewright;
using namespace phasewright::chain;
using plan::SizeUnit;
using plan::Strands;

namespace {
plan::Lead lead_of(plan::ConductorSize size, double length_m, Strands strands = Strands::stranded) {
    return {.length_m = length_m, .size = size, .strands = strands};
}
double leads_va(plan::Lead const& lead, double rated_a = 5.0) {
    return burden_of(LoopParts{.rated_a = rated_a, .lead = lead, .contacts_ohm = 0.0, .meter_va = 0.0})
        .total_va;
}
constexpr plan::ConductorSize mm2(double area) { return {SizeUnit::mm2, area}; }
constexpr plan::ConductorSize awg(double gauge) { return {SizeUnit::awg, gauge}; }
constexpr double feet = 0.3048;
}  // namespace

// Worked by hand: 25 * 2 * 15 * 0.00741 = 5.56, and 25 * 2 * 15 * 0.017241 / 2.5 = 5.17.
TEST_CASE("15 m of 2.5 mm2 one way are 5.56 VA at 5 A by IEC 60228 and 5.17 VA by rho l / A") {
    CHECK(leads_va(lead_of(mm2(2.5), 15.0)) == doctest::Approx(5.56).epsilon(0.001));
    Wire const solid{mm2(2.5), plan::Metal::copper, Strands::solid};
    CHECK(25.0 * 0.03 * geometric_resistance(solid).ohm_per_km == doctest::Approx(5.17).epsilon(0.001));
}

// Worked by hand: 12 AWG has 5.211 ohm/km; 25 * 2 * 50 ft * that = 3.97, and 1.02 times it where it is
// stranded.
TEST_CASE("50 feet of 12 AWG one way are 4.05 VA at 5 A stranded and 3.97 solid") {
    CHECK(leads_va(lead_of(awg(12), 50 * feet)) == doctest::Approx(4.05).epsilon(0.001));
    CHECK(leads_va(lead_of(awg(12), 50 * feet, Strands::solid)) == doctest::Approx(3.97).epsilon(0.001));
}

// Derived: ten metres one way, 20 degrees C.
TEST_CASE("ten metres of the usual leads") {
    struct Row {
        plan::ConductorSize size;
        Strands strands;
        double five, one;
    };
    for (auto const& row :
         {Row{awg(14), Strands::solid, 4.14, 0.166}, Row{awg(12), Strands::solid, 2.61, 0.104},
          Row{awg(10), Strands::solid, 1.64, 0.0655}, Row{mm2(1.5), Strands::stranded, 6.05, 0.242},
          Row{mm2(2.5), Strands::stranded, 3.71, 0.148}, Row{mm2(4), Strands::stranded, 2.31, 0.0922}}) {
        CAPTURE(plan::text_of(row.size));
        CHECK(leads_va(lead_of(row.size, 10.0, row.strands)) == doctest::Approx(row.five).epsilon(0.003));
        CHECK(leads_va(lead_of(row.size, 10.0, row.strands), 1.0) == doctest::Approx(row.one).epsilon(0.004));
    }
}

TEST_CASE("a 5 A loop over, within and under the range of its class") {
    plan::CurrentTransformer ct{
        .ratio = {200, 5}, .output = plan::CtOutput::five_amperes, .accuracy_class = "0.5"};
    ct.burden_va = 5.0;
    plan::CurrentInput const input{.burden_va = 0.3};
    auto const far = burden_of(ct, lead_of(mm2(2.5), 30.0), &input);
    CHECK(far.total_va == doctest::Approx(25 * 60 * 0.00741 + 0.25 + 0.3));
    CHECK(far.state == BurdenState::over);
    CHECK(*far.longest_lead_m == doctest::Approx((5.0 - 0.55) / 25.0 / (2 * 0.00741)));
    CHECK(burden_of(ct, lead_of(mm2(2.5), 10.0), &input).state == BurdenState::within);
    auto const near = burden_of(ct, lead_of(mm2(4), 2.0), &input);
    CHECK(near.range->least_va == doctest::Approx(1.25));  // a quarter of 5 VA
    CHECK(near.state == BurdenState::under);
    // One part not known: too little cannot be said, too much can.
    CHECK(burden_of(ct, lead_of(mm2(4), 2.0), nullptr).state == BurdenState::not_known);
    CHECK(burden_of(ct, lead_of(mm2(2.5), 30.0), nullptr).state == BurdenState::over);
    CHECK(burden_of(ct, std::nullopt, &input).state == BurdenState::not_known);
}

TEST_CASE("a meter's burden follows the square of the current that it gets") {
    CHECK(*burden_of(LoopParts{.rated_a = 1.0, .meter_va = 0.5, .meter_rated_a = 5.0}).meter_va ==
          doctest::Approx(0.02));
}

// IEEE C57.13 Table 9, from memory: R, L, Z, VA at 5 A, power factor. Each row from its R and L at 60 Hz.
TEST_CASE("the standard burdens of C57.13 agree with their own resistance and inductance") {
    CHECK(standard_burdens().size() == 11);
    for (auto const& burden : standard_burdens()) {
        CAPTURE(burden.name);
        double const x = 2.0 * std::numbers::pi * 60.0 * burden.mh / 1000.0;
        double const z = std::hypot(burden.ohm, x);
        CHECK(z == doctest::Approx(burden.z_ohm).epsilon(0.01));
        CHECK(25.0 * burden.z_ohm == doctest::Approx(burden.va));
        CHECK(burden.ohm / z == doctest::Approx(burden.power_factor).epsilon(0.01));
    }
    CHECK(burden_ohm(*standard_burden_of("B-0.1"), 1.0) == doctest::Approx(2.5));
    CHECK(standard_burden_of("B-0.3") == nullptr);
}

TEST_CASE("a class with its burden on the plate rates the output") {
    plan::CurrentTransformer ct{.accuracy_class = "0.3 B-0.1"};
    CHECK(*rated_output_va(ct) == 2.5);
    auto const burden = burden_of(ct, lead_of(awg(12), 50 * feet), nullptr);
    CHECK(burden.state == BurdenState::over);
    CHECK(burden.range_source.standard == "IEEE C57.13");
    ct.accuracy_class = "0.5";
    CHECK_FALSE(rated_output_va(ct));
    CHECK(burden_of(ct, lead_of(mm2(2.5), 30.0), nullptr).state == BurdenState::not_known);
}
