#include "core/chain/window_fit.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <numbers>
#include <utility>

#include "core/chain/packing.hpp"

using namespace phasewright;
using namespace phasewright::chain;

namespace {
std::vector<double> equal(std::size_t n, double diameter = 1.0) { return std::vector<double>(n, diameter); }
// A bundle looked for, not computed.
double looked_for(std::vector<double> const& diameters) {
    double low = 0.0;
    double high = 20.0;
    for (int n = 0; n < 50; ++n) {
        double const middle = (low + high) / 2.0;
        (lies_in({middle, middle, true}, diameters) ? high : low) = middle;
    }
    return high;
}
}  // namespace

// Derived geometry; the same figures stand in every table of circle packings (Graham, Lubachevsky, Nurmela,
// Ostergard, Discrete Mathematics 181, 1998, for n up to 19: 8 are 3.304, 9 are 3.613 diameters wide).
TEST_CASE("the smallest circle round equal cables") {
    constexpr std::array known{1.000, 2.000, 2.155, 2.414, 2.701, 3.000, 3.000, 3.304, 3.613};
    for (std::size_t n = 1; n <= known.size(); ++n) {
        CAPTURE(n);
        auto const bundle = bundle_of(equal(n));
        CHECK(bundle.diameter_mm == doctest::Approx(known[n - 1]).epsilon(0.0003));
        CHECK(bundle.smallest == (n <= 7));
        CHECK(looked_for(equal(n)) == doctest::Approx(known[n - 1]).epsilon(0.0003));
    }
    // From the same table: what is looked for may be a little wider, never narrower.
    for (auto const& [n, width] : {std::pair{10U, 3.813}, std::pair{11U, 3.923}, std::pair{12U, 4.029}}) {
        CAPTURE(n);
        double const found = bundle_of(equal(n)).diameter_mm;
        CHECK(found > width - 0.001);
        CHECK(found < 1.06 * width);
    }
}

// Soddy's case of Descartes' theorem: circles of bends 2, 2 and 3 lie in a circle of bend -1.
TEST_CASE("three unequal cables touch one another and the rim") {
    CHECK(bundle_of(std::array{1.0, 1.0, 2.0 / 3.0}).diameter_mm == doctest::Approx(2.0));
    for (auto const& three :
         {std::array{10.0, 9.0, 8.0}, std::array{20.0, 12.0, 11.0}, std::array{5.0, 5.0, 4.0}}) {
        CHECK(bundle_of(three).diameter_mm ==
              doctest::Approx(looked_for({three[0] / 5.0, three[1] / 5.0, three[2] / 5.0}) * 5.0)
                  .epsilon(1e-6));
    }
    // A thin one lies in the gap beside two thick ones.
    CHECK(bundle_of(std::array{1.0, 10.0, 10.0}).diameter_mm == doctest::Approx(20.0));
    CHECK(looked_for({0.1, 1.0, 1.0}) == doctest::Approx(2.0));
}

TEST_CASE("two cables of 300 kcmil go through 44 mm and not through 40") {
    auto const diameter = building_wire_mm({plan::SizeUnit::kcmil, 300}, Insulation::thhn);
    REQUIRE(diameter);
    CHECK(*diameter == doctest::Approx(19.46).epsilon(0.001));
    auto const cables = equal(2, *diameter);
    auto const wide = window_fit({44, 44, true}, cables);
    CHECK(wide.fits);
    CHECK(wide.room == doctest::Approx(44.0 / 38.91 - 1.0).epsilon(0.001));
    auto const tight = window_fit({40, 40, true}, cables);
    CHECK_FALSE(tight.fits);  // 2.8 % more only
    CHECK(tight.proven);
    CHECK(window_fit({40, 40, true}, cables, 0.02).fits);
}

TEST_CASE("in a window with corners cables lie in a row or staggered") {
    CHECK(window_fit({60, 21, false}, equal(2, 20.0)).fits);
    CHECK_FALSE(window_fit({42, 20, false}, equal(2, 20.0)).fits);
    // Three of diameter 1 staggered in a height h: width 1 + 2 sqrt(1 - (h - 1)^2); h = 1.5 gives 2.732.
    double const width = 1.0 + 2.0 * std::sqrt(1.0 - 0.25);
    CHECK(window_fit({width, 1.5, false}, equal(3), 0.0).fits);
    CHECK_FALSE(window_fit({width * 0.99, 1.5, false}, equal(3), 0.0).fits);
    // Four in a square.
    CHECK(window_fit({2.0, 2.0, false}, equal(4), 0.0).fits);
    CHECK(window_fit({1.0, 1.0, false}, {}).fits);
}

// NEC Chapter 9, Table 5, read in a copy of the 2008 edition: inches beside millimetres.
TEST_CASE("building wire is as thick as the NEC's table says") {
    CHECK(building_wires().size() == 21);
    constexpr std::array thhn{2.82,  3.30,  4.17,  5.49,  6.45,  8.23,  8.94,  9.75,  11.33, 12.34, 13.51,
                              14.83, 16.31, 18.06, 19.46, 20.75, 21.95, 24.10, 26.70, 28.50, 29.36};
    constexpr std::array xhhw{3.38,  3.86,  4.47,  5.99,  6.96,  8.18,  8.89,  9.70,  11.23, 12.24, 13.41,
                              14.73, 16.21, 17.91, 19.30, 20.60, 21.79, 23.95, 26.75, 28.55, 29.41};
    for (std::size_t n = 0; n < building_wires().size(); ++n) {
        auto const& wire = building_wires()[n];
        CAPTURE(plan::text_of(wire.size));
        CHECK(*building_wire_mm(wire.size, Insulation::thhn) == doctest::Approx(thhn[n]).epsilon(0.002));
        CHECK(*building_wire_mm(wire.size, Insulation::xhhw) == doctest::Approx(xhhw[n]).epsilon(0.002));
        CHECK(*building_wire_mm(wire.size, Insulation::thhn) > plan::solid_diameter_mm(wire.size));
    }
    CHECK_FALSE(building_wire_mm({plan::SizeUnit::mm2, 95}, Insulation::thhn));
}

TEST_CASE("the cables of a phase come from their diameter, else from the table") {
    plan::MeteringPoint point;
    CHECK_FALSE(phase_cables(point));
    point.cable = plan::Cable{.size = plan::ConductorSize{plan::SizeUnit::awg, -3}};
    point.cables_per_phase = 2;
    auto const listed = phase_cables(point);
    REQUIRE(listed);
    CHECK(listed->from_table);
    CHECK(listed->diameters_mm.size() == 2);
    CHECK(listed->diameters_mm[0] == doctest::Approx(16.31).epsilon(0.001));
    point.cable->diameter_mm = 17.5;
    CHECK(phase_cables(point)->diameters_mm[0] == 17.5);
    point.cable = plan::Cable{.size = plan::ConductorSize{plan::SizeUnit::mm2, 95}};
    CHECK_FALSE(phase_cables(point));
}
