#include "core/plan/sums.hpp"

#include <doctest/doctest.h>

using namespace phasewright::plan;

namespace {
std::vector<MeteringPoint> tree(std::vector<std::pair<std::string, std::string>> const& child_and_parent) {
    std::vector<MeteringPoint> points;
    for (auto const& [child, parent] : child_and_parent) {
        points.push_back({.id = child});
        points.back().parent = parent;
    }
    return points;
}
using Ids = std::vector<std::string>;
}  // namespace

TEST_CASE("children are those that name the parent, in the order of the plan") {
    auto const points = tree({{"main", ""}, {"b", "main"}, {"c", "b"}, {"a", "main"}});
    CHECK(children_of(points, "main") == Ids{"b", "a"});
    CHECK(children_of(points, "c").empty());
    CHECK(children_of(points, "").empty());
    CHECK(ring_of_parents(points).empty());
}

TEST_CASE("a chain of parents that leads back into itself is given as its ring") {
    CHECK(ring_of_parents(tree({{"x", "a"}, {"a", "b"}, {"b", "c"}, {"c", "a"}})) == Ids{"a", "b", "c"});
    CHECK(ring_of_parents(tree({{"a", "a"}})) == Ids{"a"});
    CHECK(ring_of_parents(tree({{"a", "gone"}})).empty());
}
