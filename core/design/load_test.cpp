// The bound of error over a load, against hand arithmetic.
#include "core/design/load.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "core/design/parts_for_tests.hpp"

using namespace phasewright;
using namespace phasewright::design;

namespace {
Measured with(char const* ct, char const* meter) {
    auto const& tables = chain::built_in_tables();
    return {.ct = chain::ct_class(tables, ct),
            .meter = chain::meter_class(tables, "IEC 62053-22", meter),
            .rated_primary_a = 100.0,
            .most_percent = 120.0};
}
}  // namespace

TEST_CASE(
    "class 0.5 at rated current and power factor 0.5 with a meter of 0.5S: 2.01 % of the CT and 0.6 % of the "
    "meter") {
    // By hand, linear: 0.5 % + 30' tan 60 deg = 0.5 + 0.8727 x 1.7321 = 2.01 %; IEC 61869-2 Table 201 and IEC
    // 62053-22 Table 5, from memory. The exact form adds the products of the three.
    auto const bound = error_bound(with("0.5", "0.5S"), 100.0, 0.5, false);
    REQUIRE(bound.has_value());
    CHECK(bound->percent == doctest::Approx(2.61).epsilon(0.01));
    CHECK(bound->stated);
}

TEST_CASE("at unity nothing of the phase is left but its square") {
    auto const bound = error_bound(with("0.5", "0.5S"), 100.0, 1.0, false);
    REQUIRE(bound.has_value());
    CHECK(bound->percent == doctest::Approx(1.0).epsilon(0.01));  // 0.5 + 0.5
}

TEST_CASE(
    "below five percent class 0.5 promises nothing, and the bound grows with the inverse of the current") {
    auto const at_5 = error_bound(with("0.5", "0.5S"), 5.0, 1.0, false);
    auto const at_1 = error_bound(with("0.5", "0.5S"), 1.0, 1.0, false);
    REQUIRE(at_5.has_value());
    REQUIRE(at_1.has_value());
    CHECK(at_5->stated);
    CHECK(at_5->percent == doctest::Approx(2.0).epsilon(0.01));  // 1.5 + 0.5
    CHECK_FALSE(at_1->stated);
    // Five times 1.5 % and 90', and the meter's 1.0 %: 1 - 0.925 x 0.99 x cos 450' = 9.21 %
    CHECK(at_1->percent == doctest::Approx(9.21).epsilon(0.001));
}

TEST_CASE("an IEEE class 0.3 at rated current and power factor 0.6 is its band, 0.3 %") {
    // The corner RCF 1.003, gamma +15.6' gives TCF 0.997; at power factor 0.6 the energy follows TCF.
    auto const bound = error_bound(with("0.3", "0.5S"), 100.0, 0.6, false);
    REQUIRE(bound.has_value());
    CHECK(bound->percent == doctest::Approx(0.3 + 0.6).epsilon(0.02));
}

TEST_CASE("the bound over a load is weighted with the energy at each current") {
    LoadProfile load;
    load.steps = {{{5.0, 0.5}, {20.0, 0.4}, {100.0, 0.1}}};
    load.power_factor = 1.0;
    auto const bound = energy_bound(with("0.5", "0.5S"), load);
    REQUIRE(bound.has_value());
    // By hand: (0.5 x 5 x 2.0 + 0.4 x 20 x 1.25 + 0.1 x 100 x 1.0) / (2.5 + 8 + 10) = 25 / 20.5
    CHECK(bound->over_load_percent == doctest::Approx(25.0 / 20.5).epsilon(0.01));
    CHECK(bound->usual_percent == doctest::Approx(1.25).epsilon(0.01));
    CHECK_FALSE(bound->unproven_below_a.has_value());
}

TEST_CASE("what a plan does not say of a load is assumed in words, and nothing is made of nothing") {
    plan::MeteringPoint point;
    CHECK_FALSE(load_of(point, std::nullopt, {}).has_value());
    auto const load = load_of(point, 100.0, {});
    REQUIRE(load.has_value());
    CHECK(load->usual_a() == doctest::Approx(40.0));
    CHECK(load->most_a() == doctest::Approx(100.0));
    CHECK(load->assumed.size() == 4);
}

TEST_CASE("a class that nobody knows has no bound") {
    auto parts = with("0.5", "0.5S");
    parts.ct = nullptr;
    CHECK_FALSE(error_bound(parts, 100.0, 1.0, false).has_value());
}
