// The file of docs/reference/twin.md: what is read, and what every mistake is told as.
#include "bus/twin/wired_file.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace phasewright;
using plan::Conductor;
using twin::read_wired;

namespace {
plan::Site site() {
    plan::Site made;
    made.panels = {{.id = "main", .name = "main", .nominal = {230.0, 400.0, 50.0}}};
    plan::MeteringPoint point{.id = "tenant-3", .panel = "main"};
    point.ct.ratio = {100.0, 5.0};
    point.cables_per_phase = 2;
    made.points = {point};
    return made;
}

std::string const good = R"([supply.main]
v = [231.0, 229.0, 232.0]
[[point]]
id = "tenant-3"
loads = [{ between = "an", amps = 41.2, pf = 0.92 },
         { between = "bc", amps = 3.0, pf = 0.5, current = "leads", energy = "out" }]
taps = { V2 = { lead = "touches nothing", ghost_v = 70.0, copy_of = "c" }, N = "b" }
cts = [{ p1_faces = "load", cables_in_window = 1 }, { round = "c", s1_on = "S2", ratio = [200, 5] },
       { round = "nothing", links = "closed", programmed = [50, 5] }]
wander = { amps_percent = 0.0 }
noise = { amps = 0.01 }
)";

std::string refused(std::string const& passage, std::string const& instead) {
    auto text = good;
    auto const at = text.find(passage);
    REQUIRE(at != std::string::npos);
    text.replace(at, passage.size(), instead);
    auto const wired = read_wired(text, "yard.wired.toml", site());
    REQUIRE_FALSE(wired.has_value());
    return quantity::to_sentence(wired.error());
}
bool contains(std::string const& text, std::string const& part) {
    return text.find(part) != std::string::npos;
}
}  // namespace

TEST_CASE("where the leads run is read as it is written") {
    auto const wired = read_wired(good, "yard.wired.toml", site());
    REQUIRE(wired.has_value());
    CHECK(wired->seed == 1);
    CHECK(wired->supplies.at("main").hz == 50.0);
    auto const& point = wired->points.at("tenant-3");
    REQUIRE(point.loads.size() == 2);
    CHECK(point.loads[0].between == std::pair{Conductor::a, Conductor::n});
    CHECK(std::abs(point.loads[0].lag_deg - 23.0739) < 1e-3);
    CHECK(std::abs(point.loads[1].lag_deg - (180.0 - 60.0)) < 1e-9);
    CHECK(std::get<Conductor>(point.taps[0]) == Conductor::a);
    CHECK(std::get<twin::LooseLead>(point.taps[1]).ghost_v == 70.0);
    CHECK(std::get<twin::LooseLead>(point.taps[1]).copy_of == Conductor::c);
    CHECK(std::get<Conductor>(*point.neutral) == Conductor::b);
    CHECK_FALSE(point.cts[0].p1_faces_source);
    CHECK(point.cts[0].round == Conductor::a);
    CHECK(point.cts[0].window_share == 0.5);  // one of the two cables that the plan has a phase
    CHECK(point.cts[1].window_share == 1.0);
    CHECK(point.cts[1].round == Conductor::c);
    CHECK_FALSE(point.cts[1].s1_on_s1);
    CHECK(point.cts[1].ratio.primary == 200.0);
    CHECK(point.cts[1].programmed.primary == 100.0);
    CHECK_FALSE(point.cts[2].round.has_value());
    CHECK(point.cts[2].links_closed);
    CHECK(point.cts[2].programmed.primary == 50.0);
    CHECK(point.wander.amps_percent == 0.0);
    CHECK(point.wander.degrees == 2.0);
    CHECK(point.noise.amps == 0.01);
}

TEST_CASE("a mistake names file, line, field, what was found and what is allowed") {
    CHECK(refused("id = \"tenant-3\"", "id = \"tenant-4\"") ==
          "yard.wired.toml:4 point.id: the plan has no such point; found \"tenant-4\"; allowed: the id of a "
          "point of "
          "the plan; try: did you mean \"tenant-3\"?");
    CHECK(refused("round = \"c\"", "round = \"L3\"") ==
          "yard.wired.toml:8 point.cts.round: the word is not known; found \"L3\"; allowed: a, b, c, n, "
          "nothing; "
          "try: did you mean \"a\"?");
    CHECK(contains(refused("cables_in_window = 1", "cables_in_window = 3"),
                   "8 point.cts.cables_in_window: the number is out of range; found 3; allowed: a whole "
                   "number, 1 to 2"));
    CHECK(contains(refused("p1_faces", "p1_face"), "8 point.cts.p1_face: the field is not known"));
    CHECK(contains(refused("N = \"b\"", "V4 = \"b\""), "7 point.taps.V4: the field is not known"));
    CHECK(contains(refused("pf = 0.92", "pf = 1.2"),
                   "5 point.loads.pf: the number is out of range; found 1.2"));
    CHECK(
        contains(refused("\"bc\"", "\"cb\""), "6 point.loads.between: the word is not known; found \"cb\""));
    CHECK(contains(refused(", 232.0", ""), "2 supply.main.v: the list has the wrong length"));
    CHECK(contains(refused("[supply.main]", "[supply.mian]"), "the supply of panel \"main\" is missing"));
    CHECK(contains(refused("{ p1_faces = \"load\", cables_in_window = 1 }, ", ""),
                   "8 point.cts: the number of CTs is not that of"));
    CHECK(
        contains(refused("lead = \"touches nothing\", ", ""), "7 point.taps.V2.lead: the field is missing"));
    CHECK(contains(refused("ghost_v = 70.0, ", ""), "there is no ghost voltage"));
    CHECK(contains(
        refused("[[point]]\nid = \"tenant-3\"", "[[point]]\nid = \"tenant-3\"\n[[point]]\nid = \"tenant-3\""),
        "the point has been described before"));
    CHECK(contains(refused("v = [", "high_leg = \"b\"\nv = ["), "only a supply of the kind high-leg"));
}

TEST_CASE("a point that the file leaves out is named") {
    auto const wired = read_wired("[supply.main]\nv = [230, 230, 230]\n", "yard.wired.toml", site());
    REQUIRE_FALSE(wired.has_value());
    CHECK(contains(quantity::to_sentence(wired.error()), "the point \"tenant-3\" is missing"));
}
