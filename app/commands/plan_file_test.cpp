// The plan file of docs/reference/plan.md: what is read, and what every mistake is told as.
#include "app/commands/plan_file.hpp"
#include "app/commands/plan_ports.hpp"
#include "app/commands/plan_writer.hpp"

#include <doctest/doctest.h>

using namespace phasewright;
using commands::read_plan;

namespace {
std::string const head = R"([site]
name = "Corner shop"
[[panel]]
id = "main"
v_ln = 230.0
v_ll = 400.0
hz = 50.0
[[gateway]]
id = "line-1"
host = "127.0.0.1"
port = 0
)";

std::string const point = R"([[point]]
id = "tenant-3"
panel = "main"
service = "3P4W"
ct = { ratio = [100, 5], output = "5A" }
meter = { profile = "sunspec" }
address = { gateway = "line-1", unit = 3 }
)";

// The good text with one passage changed, as a sentence about what is wrong with it.
std::string refused(std::string const& passage, std::string const& instead, std::string text = head + point) {
    auto const at = text.find(passage);
    REQUIRE(at != std::string::npos);
    text.replace(at, passage.size(), instead);
    auto const site = read_plan(text, "shop.plan.toml");
    REQUIRE_FALSE(site.has_value());
    return quantity::to_sentence(site.error());
}
bool contains(std::string const& text, std::string const& part) {
    return text.find(part) != std::string::npos;
}
}  // namespace

TEST_CASE("the smallest plan is read, with its defaults") {
    auto const site = read_plan(head + point, "shop.plan.toml");
    REQUIRE(site.has_value());
    CHECK(site->name == "Corner shop");
    CHECK(site->first_commissioning);
    CHECK(site->region.conductors[0] == "L1");
    REQUIRE(site->points.size() == 1);
    auto const& read = site->points[0];
    CHECK(read.name == "tenant-3");
    CHECK(read.service == plan::Service::four_wire_wye);
    CHECK(read.ct.ratio.factor() == doctest::Approx(20.0));
    CHECK(read.ct.output == plan::CtOutput::five_amperes);
    CHECK(read.address.host == "127.0.0.1");
    CHECK(read.address.gateway == "line-1");
    CHECK(read.address.port == 0);
    CHECK(read.address.unit == 3);
    CHECK_FALSE(read.load_kind.has_value());
    CHECK_FALSE(read.flow.has_value());
    CHECK_FALSE(read.rotation.has_value());
}

TEST_CASE("a point with everything is read whole") {
    auto const site = read_plan(R"([site]
name = "Shop"
place = "Nowhere"
region = "north-america"
stage = "in-service"
[[panel]]
id = "delta"
name = "Delta panel"
v_ln = 120
v_ll = 240
hz = 60
[[point]]
id = "shop"
name = "The shop"
panel = "delta"
way = "1-3-5"
service = "3P4W-HL"
purpose = "everything behind the counter"
load = "motor"
flow = "import"
breaker_a = 100
usual_a = 40.5
cables_per_phase = 2
rotation = "acb"
high_leg = "c"
ct = { ratio = [200, 0.333], output = "mV", class = "0.5" }
meter = { profile = "some-meter", serial = "X-1" }
address = { host = "192.0.2.9", port = 1502, unit = 255 }
)",
                                "shop.plan.toml");
    REQUIRE(site.has_value());
    CHECK_FALSE(site->first_commissioning);
    CHECK(site->region.secondary_marks[0] == "X1");
    CHECK(site->panels[0].name == "Delta panel");
    auto const& read = site->points.at(0);
    CHECK(read.load_kind == plan::LoadKind::motor);
    CHECK(read.flow == plan::Flow::import_only);
    CHECK(read.breaker_a == 100.0);
    CHECK(read.usual_a == 40.5);
    CHECK(read.cables_per_phase == 2);
    CHECK(read.rotation == plan::Sequence::acb);
    CHECK(read.model_options.high_leg == plan::Conductor::c);
    CHECK(read.ct.accuracy_class == "0.5");
    CHECK(read.meter_profile == "some-meter");
    CHECK(read.meter_serial == "X-1");
    CHECK(read.address.port == 1502);
    CHECK(read.address.unit == 255);
}

TEST_CASE("a mistake names file, line, field, what was found and what is allowed") {
    CHECK(refused("service = \"3P4W\"", "service = \"3P4V\"") ==
          "shop.plan.toml:15 point.service: the word is not known; found \"3P4V\"; allowed: 1P2W, 1P3W, "
          "2P3W, 3P4W, "
          "3P3W, 3P3W-2E, 3P3W-2CT, 3P4W-2CT, 3P4W-HL, 3P3W-CE; try: did you mean \"3P4W\"?");
    CHECK(refused("panel = \"main\"", "panel = \"mian\"") ==
          "shop.plan.toml:14 point.panel: the plan has no such panel; found \"mian\"; allowed: main; "
          "try: did you mean \"main\"?");
    CHECK(refused("service =", "sevrice =") ==
          "shop.plan.toml:15 point.sevrice: the field is not known; found \"sevrice\"; allowed: id, name, "
          "panel, way, parent, installed, service, purpose, purpose_kind, load, flow, breaker_a, least_a, usual_a, most_a, "
          "power_factor, accuracy_percent, cables_per_phase, cable, rotation, high_leg, branches, elements, ct, vt, lead, "
          "tap, meter, supply, address, overruled, extra; try: did you mean \"service\"?");
    CHECK(
        refused("ratio = [100, 5]", "ratio = [5, 100]") ==
        "shop.plan.toml:16 point.ct.ratio: the primary is not greater than the secondary; found a list of 2; "
        "allowed: [primary, secondary], such as [200, 5]");
}

TEST_CASE("bad ratios, outputs and numbers are refused at their field") {
    CHECK(contains(refused("[100, 5]", "200"), "16 point.ct.ratio: the field is not a list; found 200"));
    CHECK(contains(refused("[100, 5]", "[100]"), "16 point.ct.ratio: the list has the wrong length"));
    CHECK(contains(refused("[100, 5]", "[100, 0]"),
                   "point.ct.ratio: a number of the list is out of range; found 0"));
    CHECK(contains(refused("[100, 5]", "[100, 1]"), "the secondary does not fit the output"));
    CHECK(contains(refused("\"5A\"", "\"5 A\""), "16 point.ct.output: the word is not known; found \"5 A\""));
    CHECK(contains(refused("unit = 3", "unit = 256"), "18 point.address.unit: the number is out of range"));
    CHECK(contains(refused("hz = 50.0", "hz = 500"), "7 panel.hz: the number is out of range; found 500"));
    CHECK(contains(refused("port = 0", "port = 65536"), "11 gateway.port: the number is out of range"));
    CHECK(contains(refused("id = \"tenant-3\"", "id = \"Tenant 3\""), "13 point.id: the text is not an id"));
}

TEST_CASE("what is missing, doubled or at odds with the rest is refused") {
    CHECK(contains(refused("name = \"Corner shop\"", ""), "site.name: the field is missing"));
    CHECK(contains(refused("ct = { ratio = [100, 5], output = \"5A\" }", ""),
                   "point.ct: the table is missing"));
    CHECK(contains(refused("profile = \"sunspec\"", ""), "point.meter.profile: the field is missing"));
    CHECK(contains(refused(point, ""), "the plan has no point"));
    CHECK(
        contains(refused("unit = 3", "unit = 3, port = 5"), "point.address.port: the address has a gateway"));
    CHECK(contains(refused("gateway = \"line-1\"", "gateway = \"line-2\""), "the plan has no such gateway"));
    CHECK(contains(refused("gateway = \"line-1\", ", ""), "point.address.host: the field is missing"));
    CHECK(contains(refused("v_ll = 400.0", ""),
                   "15 point.service: the service 3P4W needs v_ll, and panel \"main\""));
    CHECK(contains(refused("service = \"3P4W\"", "service = \"3P4W\"\nhigh_leg = \"b\""), "point.high_leg"));
    CHECK(contains(
        refused("service = \"3P4W\"", "service = \"3P4W\"\nbranches = [{ id = \"k1\", phase = \"a\" }]"),
        "only the service 1P2W has branches"));
    CHECK(contains(refused("x", "x", head + point + point + "# x\n"),
                   "20 point.id: the id has been used before"));
    auto second = point;
    second.replace(second.find("tenant-3"), 8, "tenant-4");
    CHECK(contains(
        refused("x", "x", head + point + second + "# x\n"),
        "25 point.address: the point \"tenant-3\" has the same place on the bus: gateway line-1 unit 3"));
    CHECK(contains(refused("[site]", "[site"), "shop.plan.toml:1: the text is not TOML"));
}

TEST_CASE("branches of one phase each make a meter with as many elements") {
    auto text = head + point;
    text.replace(text.find("\"3P4W\""), 6,
                 "\"1P2W\"\nbranches = [{ id = \"k1\", phase = \"a\" }, { id = \"k2\", phase = \"c\" }]");
    auto const site = read_plan(text, "shop.plan.toml");
    REQUIRE(site.has_value());
    CHECK(site->points[0].model_options.branches.size() == 2);
    CHECK(site->points[0].model_options.branches[1].phase == plan::Conductor::c);
}

TEST_CASE("ports that were chosen at the start are filled in, and nothing else is") {
    auto site = *read_plan(head + point, "shop.plan.toml");
    REQUIRE(commands::fill_ports(site, commands::ports_text({{"tenant-3", 41873}}), "ports").has_value());
    CHECK(site.points[0].address.port == 41873);
    CHECK(site.gateways[0].port == 41873);

    auto again = *read_plan(head + point, "shop.plan.toml");
    auto const stranger = commands::fill_ports(again, "[ports]\ntenant-3 = 4000\ntenant-4 = 4001\n", "ports");
    REQUIRE_FALSE(stranger.has_value());
    CHECK(
        contains(quantity::to_sentence(stranger.error()), "ports:3 ports.tenant-4: the field is not known"));

    auto bare = *read_plan(head + point, "shop.plan.toml");
    auto const missing = commands::fill_ports(bare, "[ports]\n", "ports");
    REQUIRE_FALSE(missing.has_value());
    CHECK(contains(quantity::to_sentence(missing.error()), "the port of this point is missing"));
}

TEST_CASE("a meter on a serial line has a place on it, and no host") {
    std::string const with_line = R"([site]
name = "Corner shop"
[[panel]]
id = "main"
v_ln = 230.0
v_ll = 400.0
hz = 50.0
[[serial_line]]
id = "riser"
device = "/dev/ttyUSB0"
bit_rate = 9600
parity = "none"
length_m = 140
[[point]]
id = "tenant-3"
panel = "main"
service = "3P4W"
ct = { ratio = [100, 5], output = "5A" }
meter = { profile = "sunspec" }
address = { serial_line = "riser", unit = 3, position = 2 }
)";
    auto const site = read_plan(with_line, "shop.plan.toml");
    REQUIRE(site.has_value());
    REQUIRE(site->serial_lines.size() == 1);
    auto const& line = site->serial_lines[0];
    CHECK(plan::words_of(line.format) == "9600 8N2");
    CHECK(line.answer_timeout_ms == 1000);
    CHECK(line.length_m == 140.0);
    auto const& address = site->points[0].address;
    CHECK(address.serial_line == "riser");
    CHECK(address.host.empty());
    CHECK(address.unit == 3);
    CHECK(address.position == 2);

    CHECK(contains(refused("unit = 3", "unit = 0", with_line), "point.address.unit: the number is out of range"));
    CHECK(contains(refused("unit = 3", "host = \"h\"", with_line),
                   "point.address.host: a meter on a serial line has no such field"));
    CHECK(contains(refused("\"riser\", unit", "\"risen\", unit", with_line), "did you mean \"riser\"?"));
    CHECK(contains(refused("parity = \"none\"", "parity = \"mark\"", with_line), "serial_line.parity"));
}

TEST_CASE("what design needs is read and written back: places, runs, the head's panel, a branch without a phase, an overruled choice") {
    std::string const text = R"([site]
name = "Corner shop"
[[panel]]
id = "main"
place_m = [0, 1.5, -3]
v_ln = 230.0
v_ll = 400.0
hz = 50.0
[[panel]]
id = "loft"
v_ln = 230.0
v_ll = 400.0
hz = 50.0
[[serial_line]]
id = "riser"
panel = "loft"
[[run]]
from = "main"
to = "loft"
length_m = 22.5
[[point]]
id = "lights"
panel = "main"
service = "1P2W"
branches = [{ id = "stairs", phase = "to-choose", way = "7" }]
ct = "to-choose"
meter = "to-choose"
address = "to-choose"
overruled = [{ what = "ct", reason = "three of these lie in the store", by = "A. Person" }]
)";
    auto const site = commands::read_draft(text, "shop.plan.toml");
    REQUIRE(site.has_value());
    CHECK(site->panels[0].place == plan::PlaceInBuilding{0.0, 1.5, -3.0});
    CHECK(site->serial_lines[0].panel == "loft");
    CHECK(site->runs.at(0) == plan::CableRun{"main", "loft", 22.5});
    auto const& lights = site->points[0];
    CHECK(lights.model_options.branches[0].to_choose);
    CHECK(lights.model_options.branches[0].way == "7");
    CHECK(lights.overruled.at(0).reason == "three of these lie in the store");
    CHECK(commands::read_draft(commands::write_plan(*site), "again") == *site);
    CHECK(contains(quantity::to_sentence(read_plan(text, "shop.plan.toml").error()), "point.branches.phase"));
    auto ring = text;
    ring.replace(ring.find("to = \"loft\""), 11, "to = \"main\"");
    CHECK(contains(quantity::to_sentence(commands::read_draft(ring, "shop").error()), "the run leads back"));
}
