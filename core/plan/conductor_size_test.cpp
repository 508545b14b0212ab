// Sizes as written and as areas. Gauges: ASTM B258's formula; the areas beside them are NEC Chapter 9 Table 8 circular
// mils (read in a reprint, which rounds to 10 cmil) and the anchors 36 AWG = 0.0050 in, 4/0 = 0.4600 in.
#include "core/plan/conductor_size.hpp"

#include <doctest/doctest.h>

using namespace phasewright::plan;

namespace {
ConductorSize size(std::string_view text) {
    auto const read = conductor_size_of(text);
    REQUIRE(read.has_value());
    return *read;
}
}  // namespace

TEST_CASE("a size is read as the trade writes it, and written one way") {
    for (auto const* text : {"2.5 mm2", "2,5mm²", "2.5 MM2", "2.5 sq mm", "2.5mm^2"}) CHECK(text_of(size(text)) == "2.5 mm2");
    for (auto const* text : {"12 AWG", "#12", "AWG12", "AWG #12", "#12 awg"}) CHECK(text_of(size(text)) == "12 AWG");
    for (auto const* text : {"4/0", "4/0 AWG", "#4/0"}) CHECK(text_of(size(text)) == "4/0 AWG");
    for (auto const* text : {"250 kcmil", "250MCM"}) CHECK(text_of(size(text)) == "250 kcmil");
}

TEST_CASE("a number without a unit, a gauge that does not exist and an absurd area are no sizes") {
    for (auto const* text : {"2.5", "12", "", "mm2", "AWG", "12.5 AWG", "5/0", "41 AWG", "0 mm2", "-2 mm2", "9000 mm2", "x"})
        CHECK_FALSE(conductor_size_of(text).has_value());
    CHECK(conductor_size_of("2.5", SizeUnit::mm2) == ConductorSize{SizeUnit::mm2, 2.5});
    CHECK(conductor_size_of("12", SizeUnit::awg) == ConductorSize{SizeUnit::awg, 12.0});
}

TEST_CASE("gauges have the diameters and areas of ASTM B258") {
    CHECK(solid_diameter_mm(size("36 AWG")) == doctest::Approx(0.0050 * 25.4).epsilon(1e-9));
    CHECK(solid_diameter_mm(size("4/0")) == doctest::Approx(0.4600 * 25.4).epsilon(1e-9));
    double const mm2_per_cmil = 0.506707e-3;
    CHECK(area_mm2(size("12 AWG")) == doctest::Approx(6530 * mm2_per_cmil).epsilon(1e-3));
    CHECK(area_mm2(size("8 AWG")) == doctest::Approx(16510 * mm2_per_cmil).epsilon(1e-3));
    CHECK(area_mm2(size("1/0")) == doctest::Approx(105600 * mm2_per_cmil).epsilon(1e-3));
    CHECK(area_mm2(size("250 kcmil")) == doctest::Approx(126.677).epsilon(1e-5));
}

TEST_CASE("the next size of a series is never below the area") {
    CHECK(metric_size_from(2.5) == size("2.5 mm2"));
    CHECK(metric_size_from(2.6) == size("4 mm2"));
    CHECK(awg_size_from(area_mm2(size("12 AWG"))) == size("12 AWG"));
    CHECK(awg_size_from(2.5) == size("12 AWG"));
    CHECK(awg_size_from(30.0) == size("2 AWG"));
    CHECK(awg_size_from(108.0) == size("250 kcmil"));
    CHECK_FALSE(metric_size_from(1000.0).has_value());
}
