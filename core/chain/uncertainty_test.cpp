#include "core/chain/uncertainty.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cmath>

using namespace phasewright;
using namespace phasewright::chain;

// JCGM 100:2008, 4.3.7 to 4.3.9 and 4.3.3 (clauses from memory).
TEST_CASE("standard uncertainties of the usual distributions") {
    CHECK(u_of_rectangular(0.5) == doctest::Approx(0.28868).epsilon(1e-4));
    CHECK(u_of_triangular(0.6) == doctest::Approx(0.24495).epsilon(1e-4));
    CHECK(u_of_arcsine(1.0) == doctest::Approx(0.70711).epsilon(1e-4));
    CHECK(u_of_stated(0.24, 2.0) == 0.12);
}

// JCGM 100:2008, 5.2.2, example (from memory): ten resistors of 1 kilohm, each 100 mohm uncertain, all
// calibrated against one standard and so fully correlated: 1 ohm; independent ones would give 0.32 ohm.
TEST_CASE("ten correlated resistors add as they are, independent ones in squares") {
    std::array<double, 10> u{};
    u.fill(0.1);
    CHECK(combined_alike(u, 1.0) == doctest::Approx(1.0));
    CHECK(combined_alike(u, 0.0) == doctest::Approx(0.316).epsilon(0.001));
    CHECK(combined(u) == combined_alike(u, 0.0));
    // Opposite signs cancel as far as they are alike.
    CHECK(combined_alike(std::array{0.3, -0.3}, 1.0) == doctest::Approx(0.0));
    CHECK(combined_alike(std::array{0.3, -0.3}, 0.5) == doctest::Approx(0.3));
}

// JCGM 100:2008, H.1.6 (from memory): the end gauge: u_c = 32 nm; parts with 18, 25.6 (approximately), 2, 50
// and infinitely many degrees of freedom give 16 to 17.
TEST_CASE("effective degrees of freedom of the end gauge") {
    std::array const parts{WithFreedom{25.0, 18.0}, WithFreedom{9.7, 25.6}, WithFreedom{2.9, 50.0},
                           WithFreedom{16.6, 2.0}, WithFreedom{0.0, std::nullopt}};
    auto const degrees = effective_degrees(parts);
    REQUIRE(degrees);
    CHECK(*degrees > 15.5);
    CHECK(*degrees < 17.7);
    CHECK_FALSE(effective_degrees(std::array{WithFreedom{1.0, std::nullopt}}));
}

// Worked budget: class 0.5 CT at rated current and power factor 0.8 (0.5 %, 30 min) and a meter of 0.6 %.
TEST_CASE("the worked budget: u 0.5883 %, U 1.177 %, 1.7545 % in a row") {
    auto const of = [](Part part, double limit) {
        return Contribution{part, limit, u_of_rectangular(limit)};
    };
    auto const budget =
        budget_of({of(Part::ct_ratio, 0.5), of(Part::ct_phase, 0.65450), of(Part::meter, 0.6)}, 2.0);
    CHECK(budget.u_percent == doctest::Approx(0.5883).epsilon(2e-4));
    CHECK(budget.expanded_percent == doctest::Approx(1.177).epsilon(4e-4));
    CHECK(budget.worst_percent == doctest::Approx(1.7545).epsilon(1e-4));
    CHECK(budget.parts[0].part == Part::ct_phase);
    CHECK(budget.parts[0].u_percent == doctest::Approx(0.3779).epsilon(2e-4));
    CHECK(budget.parts[1].u_percent == doctest::Approx(0.3464).epsilon(2e-4));
    double shares = 0.0;
    for (auto const& part : budget.parts) shares += part.share_of_variance;
    CHECK(shares == doctest::Approx(1.0));
}

TEST_CASE("draws that err alike are rectangular and correlated as asked") {
    for (double const asked : {0.0, 0.3, 0.5, 0.8, 1.0}) {
        CAPTURE(asked);
        quantity::Dice dice{17};
        constexpr int draws = 200'000;
        double x2 = 0.0;
        double xy = 0.0;
        double x4 = 0.0;
        int low = 0;
        for (int n = 0; n < draws; ++n) {
            std::array<double, 3> one{};
            draw_alike(dice, asked, one);
            x2 += one[0] * one[0] / draws;
            x4 += std::pow(one[0], 4.0) / draws;
            xy += one[0] * one[2] / draws;
            low += one[1] < -0.5 ? 1 : 0;
        }
        CHECK(x2 == doctest::Approx(1.0 / 3.0).epsilon(0.01));
        CHECK(x4 == doctest::Approx(1.0 / 5.0).epsilon(0.015));
        CHECK(std::abs(xy / x2 - asked) < 0.01);
        CHECK(static_cast<double>(low) / draws == doctest::Approx(0.25).epsilon(0.02));
    }
}
