#include "core/chain/conductor.hpp"

#include <doctest/doctest.h>

#include <utility>

#include "core/chain/lead.hpp"

using namespace phasewright;
using namespace phasewright::chain;
using plan::Metal;
using plan::SizeUnit;
using plan::Strands;

namespace {
constexpr double metres_per_kft = 304.8;
Wire awg(double gauge, Strands strands = Strands::solid, double c = 20.0) {
    return {{SizeUnit::awg, gauge}, Metal::copper, strands, Coating::plain, c};
}
Wire mm2(double area, Strands strands = Strands::stranded) {
    return {{SizeUnit::mm2, area}, Metal::copper, strands};
}
double ohm(Wire const& wire) { return resistance_of(wire).ohm_per_km; }
}  // namespace

// IEC 60228:2004, Tables 2 and 3, plain copper at 20 degrees C; three reprints agree.
TEST_CASE("the highest resistances of IEC 60228 are those of its tables") {
    struct Row {
        double area, plain, flexible, tinned;
    };
    for (auto const& row :
         {Row{0.5, 36.0, 39.0, 40.1}, Row{0.75, 24.5, 26.0, 26.7}, Row{1.0, 18.1, 19.5, 20.0},
          Row{1.5, 12.1, 13.3, 13.7}, Row{2.5, 7.41, 7.98, 8.21}, Row{4, 4.61, 4.95, 5.09},
          Row{6, 3.08, 3.30, 3.39}, Row{10, 1.83, 1.91, 1.95}, Row{16, 1.15, 1.21, 1.24},
          Row{25, 0.727, 0.780, 0.795}, Row{35, 0.524, 0.554, 0.565}, Row{50, 0.387, 0.386, 0.393}}) {
        CAPTURE(row.area);
        CHECK(ohm(mm2(row.area)) == row.plain);
        CHECK(ohm(mm2(row.area, Strands::solid)) == row.plain);
        CHECK(ohm(mm2(row.area, Strands::flexible)) == row.flexible);
        auto tinned = mm2(row.area, Strands::flexible);
        tinned.coating = Coating::tinned;
        CHECK(ohm(tinned) == row.tinned);
    }
    for (auto const& [area, coated] : {std::pair{1.5, 12.2}, std::pair{2.5, 7.56}, std::pair{4.0, 4.70},
                                       std::pair{6.0, 3.11}, std::pair{10.0, 1.84}, std::pair{16.0, 1.16}}) {
        auto wire = mm2(area);
        wire.coating = Coating::tinned;
        CHECK(ohm(wire) == coated);
    }
}

// The table promises a little more than the metal would need: between 2 % and 8 % over rho / A, but for the
// largest.
TEST_CASE("a nominal cross-section has a little more resistance than its area says") {
    for (auto const& row : nominal_resistances()) {
        CAPTURE(row.mm2);
        double const share = row.plain / (1000.0 * copper_ohm_mm2_per_m / row.mm2);
        CHECK(share > 1.02);
        CHECK(share < (row.mm2 < 50.0 ? 1.08 : 1.13));
    }
}

// ASTM B258 geometry with rho = 0.017241 ohm mm2/m: derived, d, A and R at 20 degrees C.
TEST_CASE("AWG wires have the resistance of their geometry") {
    struct Row {
        double gauge, d_mm, ohm_per_km, ohm_per_km_75;
    };
    for (auto const& row :
         {Row{24, 0.5106, 84.21, 102.4}, Row{18, 1.0237, 20.95, 25.48}, Row{14, 1.6277, 8.285, 10.08},
          Row{12, 2.0525, 5.211, 6.337}, Row{10, 2.5882, 3.277, 3.985}, Row{8, 3.2636, 2.061, 2.506},
          Row{1, 7.3481, 0.4066, 0.4944}, Row{-3, 11.6840, 0.1608, 0.1956}}) {
        CAPTURE(row.gauge);
        CHECK(plan::solid_diameter_mm(awg(row.gauge).size) == doctest::Approx(row.d_mm).epsilon(1e-4));
        CHECK(ohm(awg(row.gauge)) == doctest::Approx(row.ohm_per_km).epsilon(2e-4));
        CHECK(ohm(awg(row.gauge, Strands::solid, 75.0)) == doctest::Approx(row.ohm_per_km_75).epsilon(5e-4));
    }
}

// NEC Chapter 9, Table 8: a published table of the same wires, made apart from this geometry.
TEST_CASE("the geometry gives the NEC's table of resistances at 75 degrees within half a percent") {
    for (auto const& row : building_wire_resistances()) {
        CAPTURE(plan::text_of(row.size));
        Wire wire{row.size, Metal::copper, Strands::solid, Coating::plain, 75.0};
        if (row.solid)
            CHECK(geometric_resistance(wire).ohm_per_km * metres_per_kft / 1000.0 ==
                  doctest::Approx(*row.solid).epsilon(0.005));
        wire.strands = Strands::stranded;
        if (row.stranded)
            CHECK(geometric_resistance(wire).ohm_per_km * metres_per_kft / 1000.0 ==
                  doctest::Approx(*row.stranded).epsilon(0.006));
    }
}

// Reprint of the temperature factors beside IEC 60228, which turn a value at 25, 40, 75, 90 back to 20
// degrees C.
TEST_CASE("temperature factors of copper are those that are printed beside IEC 60228") {
    for (auto const& [c, back] :
         {std::pair{25.0, 0.980}, std::pair{40.0, 0.926}, std::pair{75.0, 0.820}, std::pair{90.0, 0.781}}) {
        CAPTURE(c);
        // 75 degrees is printed as 0.820, the formula gives 0.8223: the reprint's last digit is off.
        CHECK(1.0 / temperature_factor(Metal::copper, c) == doctest::Approx(back).epsilon(0.004));
    }
    CHECK(temperature_factor(Metal::copper, 75.0) == doctest::Approx(1.21610).epsilon(1e-5));
    CHECK(temperature_factor(Metal::aluminium, 20.0) == 1.0);
}

TEST_CASE("aluminium and sizes that are in no table come from their area") {
    Wire const wire{{SizeUnit::mm2, 16.0}, Metal::aluminium, Strands::solid};
    CHECK_FALSE(nominal_resistance(wire));
    CHECK(ohm(wire) == doctest::Approx(28.264 / 16.0));
    CHECK(resistance_of(mm2(3.0)).source.footing == plan::Footing::derived);
    CHECK(ohm(mm2(3.0)) == doctest::Approx(1.02 * 17.241 / 3.0));
}

TEST_CASE("a common return carries nothing at a balanced load and everything with one phase loaded") {
    plan::Lead lead{.length_m = 15.0, .size = plan::ConductorSize{SizeUnit::mm2, 2.5}};
    auto const own = lead_loop(lead);
    REQUIRE(own);
    CHECK(own->ohm == doctest::Approx(30.0 * 7.41e-3));
    CHECK(own->assumed.size() == 4);  // metal, strands, temperature, way back
    lead.way_back = plan::Return::common;
    auto const common = lead_loop(lead);
    CHECK(common->ohm == doctest::Approx(15.0 * 7.41e-3));
    CHECK(common->one_phase_ohm == doctest::Approx(own->ohm));
    lead.size.reset();
    CHECK_FALSE(lead_loop(lead));
}
