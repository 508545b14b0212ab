// A plan that contradicts itself is refused with both places (docs/reference/plan.md, "What a refusal says").
#include <doctest/doctest.h>

#include "app/commands/plan_file.hpp"

using namespace phasewright;

namespace {
std::string const text = R"([site]
name = "Shop"
[[panel]]
id = "main"
v_ln = 230
v_ll = 400
hz = 50
ways = [
    { way = "1", conductors = ["a"] },
    { way = "2", conductors = ["b"] },
]
[[supply]]
id = "aux"
kind = "dc"
volts = 24
[[point]]
id = "whole"
panel = "main"
service = "3P4W"
least_a = 3
usual_a = 20
most_a = 40
ct = "to-choose"
tap = { length_m = 3, unprotected_m = 1, protection = "fuse", fuse_a = 2 }
meter = "to-choose"
address = { host = "192.0.2.1" }
[[point]]
id = "part"
panel = "main"
parent = "whole"
service = "3P4W"
ct = { ratio = [100, 5] }
meter = { profile = "sunspec", vt = [400, 100] }
vt = { class = "0.5" }
address = { host = "192.0.2.2" }
[[sum]]
id = "rest"
plus = ["whole"]
minus = ["part"]
)";

std::string refused(std::string const& passage, std::string const& instead) {
    auto changed = text;
    auto const at = changed.find(passage);
    REQUIRE(at != std::string::npos);
    changed.replace(at, passage.size(), instead);
    auto const site = commands::read_draft(changed, "shop");
    REQUIRE_FALSE(site.has_value());
    return quantity::to_sentence(site.error());
}
// Where the mistake is, and the other place.
void names_both(std::string const& sentence, std::string const& here, std::string const& there) {
    CAPTURE(sentence);
    CHECK(sentence.starts_with(here));
    CHECK(sentence.find(there) != std::string::npos);
}
}  // namespace

TEST_CASE("the plan that all of these spoil is a good one") {
    auto const site = commands::read_draft(text, "shop");
    if (!site) FAIL(quantity::to_sentence(site.error()));
    CHECK(site->points.size() == 2);
}

TEST_CASE("what is named twice names both places") {
    names_both(refused("way = \"2\"", "way = \"1\""), "shop:10 panel.ways.way: the way has been named before", "in shop:9");
    names_both(refused("id = \"part\"", "id = \"whole\""), "shop:28 point.id: the id has been used before", "in shop:17");
    names_both(refused("192.0.2.2", "192.0.2.1"), "shop:35 point.address: the point \"whole\" has the same place on the bus", "in shop:26");
}

TEST_CASE("figures that are at odds name both places") {
    names_both(refused("least_a = 3", "least_a = 30"), "shop:20 point.least_a: this is above usual_a", "in shop:21");
    names_both(refused("most_a = 40", "most_a = 4"), "shop:21 point.usual_a: this is above most_a", "in shop:22");
    names_both(refused("unprotected_m = 1", "unprotected_m = 9"), "shop:24 point.tap.unprotected_m", "in shop:24 point.tap.length_m");
    names_both(refused("\"fuse\"", "\"panel\""), "shop:24 point.tap.fuse_a: the tap has a fuse here", "in shop:24 point.tap.protection");
    names_both(refused(", vt = [400, 100]", ""), "shop:34 point.vt: voltage transformers are described here", "in shop:33 point.meter");
}

TEST_CASE("a ring of parents names its places") {
    names_both(refused("service = \"3P4W\"\nleast_a", "parent = \"part\"\nservice = \"3P4W\"\nleast_a"),
               "shop:19 point.parent: the parents lead back to this point", "shop:31 point.parent");
    CHECK(refused("parent = \"whole\"", "parent = \"part\"").find("a point stands under itself") != std::string::npos);
}

TEST_CASE("sums and ways that cannot be are refused") {
    CHECK(refused("minus = [\"part\"]", "minus = [\"whole\"]").starts_with("shop:39 sum.minus: \"whole\" is counted twice"));
    CHECK(refused("plus = [\"whole\"]", "plus = [\"rest\"]").starts_with("shop:38 sum.plus: the plan has no such point"));
    CHECK(refused("id = \"rest\"", "id = \"part\"").starts_with("shop:37 sum.id: a point has this id"));
    CHECK(refused("[\"b\"]", "[\"n\"]").find("the way has a neutral and no phase") != std::string::npos);
    CHECK(refused("[\"b\"]", "[\"n\", \"b\"]").find("n last") != std::string::npos);
    CHECK(refused("[\"b\"]", "[\"b\", \"b\"]").find("each once") != std::string::npos);
    CHECK(refused("meter = { profile", "elements = [{ plus = \"a\", minus = \"a\", ct = \"a\" }]\nmeter = { profile")
              .find("begins and ends at one conductor") != std::string::npos);
}
