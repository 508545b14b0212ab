// What the two built-in regions paint. Colours: IEC 60445; United States practice, and NEC 110.15 for the high leg.
#include "core/plan/region.hpp"

#include <doctest/doctest.h>

using namespace phasewright::plan;

TEST_CASE("each built-in region has its names, its marks and colours") {
    auto const iec = region_of("iec").value();
    CHECK(iec.conductors[2] == "L3");
    CHECK(iec.primary_marks[0] == "P1");
    CHECK(colours_for(iec, "", 400.0)->phases[2] == "grey");
    auto const america = region_of("north-america").value();
    CHECK(america.conductors[0] == "A");
    CHECK(america.secondary_marks[1] == "X2");
    CHECK(america.sizes == SizeSystem::awg);
    CHECK_FALSE(region_of("atlantis").has_value());
    for (auto const name : built_in_regions) {
        auto region = region_of(name).value();
        auto const before = region;
        CHECK(use_names(region, region.phase_names.front().id));
        CHECK(region == before);  // the first names are those in use
        for (auto const& rule : region.rules) CHECK_FALSE(rule.standard.empty());
    }
}

TEST_CASE("colours go by what was named, then by the site, then by the voltage") {
    auto region = region_of("north-america").value();
    CHECK(colours_for(region, "", 208.0)->id == "us-up-to-240");
    CHECK(colours_for(region, "", 208.0)->high_leg == "orange");
    CHECK(colours_for(region, "", 480.0)->id == "us-above-240");
    CHECK(colours_for(region, "us-above-240", 208.0)->id == "us-above-240");
    region.colours = "us-above-240";
    CHECK(colours_for(region, "", 208.0)->id == "us-above-240");
}

TEST_CASE("other names of the same region can be put to use, and no others") {
    auto region = region_of("iec").value();
    CHECK(use_names(region, "r-y-b"));
    CHECK(region.conductors[1] == "Y");
    CHECK(region.earth == "E");
    CHECK_FALSE(use_names(region, "x-y-z"));
    CHECK(region.conductors[1] == "Y");
}

TEST_CASE("a colour is the same however it is spelled") {
    CHECK(same_colour("Grey", "gray"));
    CHECK(same_colour("green/yellow", "Yellow-Green"));
    CHECK_FALSE(same_colour("blue", "light blue"));
}
