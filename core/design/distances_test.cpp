#include "core/design/distances.hpp"

#include <doctest/doctest.h>

#include "core/design/parts_for_tests.hpp"

using namespace phasewright;
using namespace phasewright::design;

TEST_CASE("the shortest way over the runs, else along the axes of the building, else nothing") {
    plan::Site site;
    site.panels = {panel_400("a"), panel_400("b"), panel_400("c"), panel_400("d"), panel_400("e")};
    site.runs = {{"a", "b", 10.0}, {"b", "c", 5.0}, {"a", "c", 20.0}};
    site.panels[0].place = plan::PlaceInBuilding{0.0, 0.0, 0.0};
    site.panels[3].place = plan::PlaceInBuilding{3.0, -4.0, 6.0};
    Distances distances(site);
    CHECK(distances.metres("a", "c") == 15.0);
    CHECK(distances.metres("c", "a") == 15.0);
    CHECK(distances.metres("a", "d") == 13.0);  // |3| + |-4| + |6|, not 7.8 m through the air
    CHECK(distances.metres("d", "d") == 0.0);
    CHECK_FALSE(distances.metres("b", "d").has_value());
    CHECK_FALSE(distances.metres("a", "e").has_value());
    CHECK_FALSE(distances.metres("a", "nowhere").has_value());
}
