#include "core/quantity/quantity.hpp"

#include <doctest/doctest.h>

#include "core/quantity/text.hpp"
#include "core/quantity/three_phase.hpp"

using namespace phasewright::quantity;

TEST_CASE("only a ratio moves a number from one side of a transformer to the other") {
    Amps<Side::secondary> const seen{4.1};
    TransformerRatio const ratio{200.0, 5.0};
    Amps<Side::primary> const meant = to_primary(seen, ratio);
    CHECK(meant.value == doctest::Approx(164.0));
    CHECK(to_secondary(meant, ratio).value == doctest::Approx(4.1));
    static_assert(!std::is_convertible_v<Amps<Side::secondary>, Amps<Side::primary>>);
    static_assert(!std::is_convertible_v<Volts<Side::primary>, Amps<Side::primary>>);
}

TEST_CASE("angles are wrapped into (-180, 180]") {
    CHECK(wrapped_deg(180.0) == 180.0);
    CHECK(wrapped_deg(-180.0) == 180.0);
    CHECK(wrapped_deg(190.0) == -170.0);
    CHECK(wrapped_deg(-541.0) == doctest::Approx(179.0));
}

TEST_CASE("the high leg of a 240 V delta stands at 207.8 V to the neutral") {
    // Derived: 240 sqrt(3) / 2.
    CHECK(high_leg_v(240.0) == doctest::Approx(207.846).epsilon(1e-5));
    CHECK(line_from_phase_v(230.0) == doctest::Approx(398.37).epsilon(1e-4));
}

TEST_CASE("numbers are printed without locale and without a negative zero") {
    CHECK(fixed(8.15, 2) == "8.15");
    CHECK(fixed(-0.0004, 2) == "0.00");
    CHECK(with_sign(8.15, 2) == "+8.15");
    CHECK(with_sign(-8.15, 1) == "-8.2");
    CHECK(shortest(0.1) == "0.1");
}

TEST_CASE("the nearest known word is offered for a misspelt one") {
    CHECK(nearest_word("sevice", {"service", "snapshots", "side"}) == "service");
    CHECK(nearest_word("anything", {}).empty());
}
