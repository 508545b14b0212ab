// Loops against graphs whose loops are known by hand, and a hostile one whose size doubles.
#include "core/checks/connection_graph.hpp"

#include <doctest/doctest.h>

#include "core/checks/plan_in_tests.hpp"

using namespace phasewright;
using namespace phasewright::checks;

namespace {
constexpr auto tie = EdgeKind::tie;
constexpr auto winding = EdgeKind::winding;
}  // namespace

TEST_CASE("a tree has no loop") {
    CHECK(loops_in(5, {{0, 1, winding}, {1, 2, tie}, {2, 3, tie}, {2, 4, tie}}).empty());
}

TEST_CASE("two ties between one pole and one common are a loop that nothing drives") {
    auto const loops = loops_in(3, {{0, 1, winding}, {1, 2, tie}, {1, 2, tie}});
    REQUIRE(loops.size() == 1);
    CHECK_FALSE(loops[0].driven);
    CHECK(loops[0].cycle == std::vector<std::size_t>{1, 2});
}

TEST_CASE("a tie from each pole to one common puts the winding into the loop") {
    std::vector<Edge> const edges{{0, 1, winding}, {1, 2, tie}, {0, 2, tie}};
    auto const loops = loops_in(3, edges);
    REQUIRE(loops.size() == 1);
    CHECK(loops[0].driven);
    CHECK(loops[0].cycle == std::vector<std::size_t>{0, 1, 2});
    CHECK(nodes_along(edges, loops[0].cycle) == std::vector<std::size_t>{0, 1, 2});
}

TEST_CASE("the cycle that is told is the shortest through the winding") {
    // Poles 0 and 1; a long way round by 2, 3, 4 and a short one by 5.
    std::vector<Edge> const edges{{0, 1, winding}, {1, 2, tie}, {2, 3, tie}, {3, 4, tie},
                                  {4, 0, tie},     {1, 5, tie}, {5, 0, tie}};
    auto const loops = loops_in(6, edges);
    REQUIRE(loops.size() == 1);
    CHECK(loops[0].edges.size() == 7);
    CHECK(loops[0].cycle == std::vector<std::size_t>{0, 5, 6});
}

TEST_CASE("two supplies that share only a common are two loops") {
    std::vector<Edge> const edges{{0, 1, winding, 0}, {2, 3, winding, 1}, {0, 4, tie, 0},
                                  {1, 4, tie, 0},     {2, 4, tie, 1},     {3, 4, tie, 1}};
    auto const loops = loops_in(5, edges);
    REQUIRE(loops.size() == 2);
    CHECK(loops[0].edges == std::vector<std::size_t>{0, 2, 3});
    CHECK(loops[1].edges == std::vector<std::size_t>{1, 4, 5});
}

TEST_CASE("a chain of a hundred thousand ties does not exhaust the stack") {
    std::vector<Edge> edges;
    constexpr std::size_t count = 100'000;
    for (std::size_t k = 0; k < count; ++k) edges.push_back({k, k + 1, tie});
    CHECK(loops_in(count + 1, edges).empty());
    edges.push_back({count, 0, tie});
    auto const loops = loops_in(count + 1, edges);
    REQUIRE(loops.size() == 1);
    CHECK(loops[0].cycle.size() == count + 1);
}

TEST_CASE(
    "an ac supply shared by two meters, one of them crossed, is shorted through the common, and the way is "
    "told") {
    auto test = iec_plan();
    test.site.supplies[0].kind = plan::CurrentKind::ac;
    test.point(0).supply->tied_to_bus_common = test.point(1).supply->tied_to_bus_common = true;
    test.point(1).supply->polarity = plan::Polarity::crossed;
    auto const found = of_rule(test.found(), "ground-loop.short");
    REQUIRE(found.size() == 1);
    CHECK(found[0].severity == Severity::stop);
    CHECK(found[0].what.find(
              "first pole of aux -> (its winding) -> second pole of aux -> (tenant-1) -> common of line-1 -> "
              "(tenant-2, crossed) -> first pole of aux") != std::string::npos);
    CHECK(found[0].value.value() == 24.0);
    CHECK(found[0].places.front() == Place{PlaceKind::supply, "aux"});
    test.point(1).supply->polarity = plan::Polarity::as_marked;
    CHECK(of_rule(test.found(), "ground-loop.short").empty());
    CHECK(of_rule(test.found(), "ground-loop.loop").size() == 1);
}

TEST_CASE("meters that are isolated from their bus close no loop, whichever way round they land") {
    auto test = iec_plan();
    test.point(1).supply->polarity = plan::Polarity::crossed;
    CHECK(of_rule(test.found(), "ground-loop.short").empty());
    CHECK(of_rule(test.found(), "ground-loop.loop").empty());
    test.meter().supply->isolated_from_bus = false;  // by the profile: all three are tied
    CHECK(of_rule(test.found(), "ground-loop.short").size() == 1);
}

TEST_CASE(
    "a supply that is tied to the common itself makes the crossed meter's short without a second meter") {
    auto test = iec_plan();
    test.site.supplies[0].tied_to_bus_common = true;
    test.point(1).supply->tied_to_bus_common = true;
    test.point(1).supply->polarity = plan::Polarity::crossed;
    auto const found = of_rule(test.found(), "ground-loop.short");
    REQUIRE(found.size() == 1);
    CHECK(found[0].what.find("tie at the supply") != std::string::npos);
}
