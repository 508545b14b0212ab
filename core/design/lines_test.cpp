// Lines, places and addresses.
#include "core/design/lines.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <map>
#include <random>
#include <set>

#include "core/design/parts_for_tests.hpp"

using namespace phasewright;
using namespace phasewright::design;

namespace {
struct Bench {
    plan::Site site;
    plan::MeterHardware meter = five_ampere_meter();
    Settings settings;
    void add(std::string const& panel, int count) {
        for (int k = 0; k < count; ++k)
            site.points.push_back(point_in(panel, panel + "-" + std::to_string(k)));
    }
    std::vector<Proposal> lay() {
        Distances distances(site);
        Meters const meters(site.points.size(), &meter);
        auto all = choose_lines(site, meters, distances, settings);
        for (auto& proposal : choose_positions(site, distances, settings)) all.push_back(std::move(proposal));
        for (auto& proposal : choose_addresses(site, meters)) all.push_back(std::move(proposal));
        return all;
    }
};
plan::Panel at(std::string const& id, double x, double y = 0.0) {
    auto panel = panel_400(id);
    panel.place = plan::PlaceInBuilding{x, y, 0.0};
    return panel;
}
plan::MeteringPoint const& named(plan::Site const& site, std::string const& id) {
    return *std::ranges::find(site.points, id, &plan::MeteringPoint::id);
}
}  // namespace

TEST_CASE("a line goes through its panels in the order of the corridor, and the numbers rise along it") {
    Bench bench;
    bench.site.panels = {at("head", 0), at("far", 30), at("near", 10), at("middle", 20)};
    bench.add("far", 1);
    bench.add("near", 2);
    bench.add("middle", 1);
    (void)bench.lay();
    REQUIRE(bench.site.serial_lines.size() == 1);
    CHECK(named(bench.site, "near-0").address.position == 1);
    CHECK(named(bench.site, "near-0").address.distance_m == 10.0);
    CHECK(named(bench.site, "near-1").address.position == 2);
    CHECK(named(bench.site, "near-1").address.distance_m == 0.5);
    CHECK(named(bench.site, "middle-0").address.position == 3);
    CHECK(named(bench.site, "far-0").address.position == 4);
    CHECK(bench.site.serial_lines[0].length_m == doctest::Approx(30.5));
    CHECK(bench.site.serial_lines[0].terminators == std::vector<int>{0, 4});
    CHECK(named(bench.site, "near-0").address.unit == 2);  // 1 is what new meters come with
    CHECK(named(bench.site, "far-0").address.unit == 5);
}

TEST_CASE("32 unit loads less head and bias leave 27: 109 meters of a quarter need two lines, 108 one") {
    for (int const count : {108, 109}) {
        Bench bench;
        bench.site.panels = {at("head", 0)};
        bench.add("head", count);
        (void)bench.lay();
        CHECK(bench.site.serial_lines.size() == (count == 108 ? 1U : 2U));
        std::map<std::string, std::set<int>> units;
        for (auto const& point : bench.site.points) {
            CHECK_FALSE(point.to_choose.address);
            CHECK(units[point.address.serial_line].insert(point.address.unit).second);
        }
    }
}

TEST_CASE("what is decided stays, new meters go behind the last, and a shorter order is offered only") {
    Bench bench;
    bench.site.panels = {at("head", 0), at("a", 10), at("b", 20), at("c", 30)};
    bench.site.serial_lines = {{.id = "l", .panel = "head"}};
    bench.add("c", 1);
    bench.add("a", 1);
    bench.add("b", 1);
    bench.site.points[0].address = {.port = 0, .unit = 40, .serial_line = "l", .position = 1};
    bench.site.points[1].address = {.port = 0, .unit = 2, .serial_line = "l", .position = 2};
    for (std::size_t const k : {0U, 1U}) bench.site.points[k].to_choose.address = false;
    (void)bench.lay();
    CHECK(named(bench.site, "c-0").address.position == 1);
    CHECK(named(bench.site, "c-0").address.unit == 40);
    CHECK(named(bench.site, "a-0").address.position == 2);
    CHECK(named(bench.site, "b-0").address.position == 3);
    CHECK(named(bench.site, "b-0").address.unit == 3);
    auto const before = bench.site;
    auto const again = bench.lay();  // everything is decided now
    CHECK(bench.site == before);
    REQUIRE(again.size() == 1);
    CHECK(again[0].standing == Standing::offered);
    CHECK(again[0].choice == "through a, b, c");
    // 30 + 20 + 10 = 60 m as decided, 30 m along the corridor
    CHECK(again[0].reasons[0] == "it needs 30 m of cable between panels, 30 m less");
}

TEST_CASE("two meters at one place would be a branch: one is moved, and the proposal says so") {
    Bench bench;
    bench.site.panels = {at("head", 0)};
    bench.site.serial_lines = {{.id = "l", .panel = "head"}};
    bench.add("head", 2);
    for (auto& point : bench.site.points) {
        point.to_choose.address = false;
        point.address = {
            .port = 0, .unit = &point == &bench.site.points[0] ? 5 : 6, .serial_line = "l", .position = 1};
    }
    auto const proposals = bench.lay();
    CHECK(bench.site.points[1].address.position == 2);
    CHECK(std::ranges::any_of(proposals, [](auto const& one) {
        return one.instead_of.find("a branch, and a line has none") != std::string::npos;
    }));
}

TEST_CASE("without distances the order is the plan's, and what is missing is said") {
    Bench bench;
    bench.site.panels = {panel_400("head"), panel_400("a")};
    bench.add("a", 1);
    bench.add("head", 1);
    auto const proposals = bench.lay();
    CHECK(named(bench.site, "a-0").address.position == 1);
    CHECK_FALSE(named(bench.site, "a-0").address.distance_m.has_value());
    CHECK(std::ranges::any_of(proposals, [](auto const& one) {
        return std::ranges::any_of(one.assumed, [](auto const& words) {
            return words.find("between head and a no distance is known") != std::string::npos;
        });
    }));
}

TEST_CASE(
    "a meter is put on the nearest line that speaks as it can, and lines are never longer than 1000 m") {
    Bench bench;
    bench.site.panels = {at("head", 0), at("east", 100), at("west", -700), at("beyond", -1100)};
    bench.site.serial_lines = {{.id = "slow", .panel = "east"}, {.id = "good", .panel = "head"}};
    bench.site.serial_lines[0].format.bit_rate = 115200;
    bench.add("east", 1);
    bench.add("west", 1);
    bench.add("beyond", 1);
    auto const proposals = bench.lay();
    CHECK(named(bench.site, "east-0").address.serial_line == "good");
    CHECK(named(bench.site, "west-0").address.serial_line == "good");
    auto const& beyond = named(bench.site, "beyond-0");
    CHECK(beyond.address.serial_line != "good");
    CHECK(std::ranges::any_of(
        proposals, [](auto const& one) { return one.ask.find("a repeater") != std::string::npos; }));
}

TEST_CASE("a meter with Ethernet only is asked for a host, and one behind gateways gets a unit there") {
    Bench bench;
    bench.site.panels = {panel_400("head")};
    bench.add("head", 2);
    bench.site.gateways = {{.id = "g", .name = "g", .host = "192.0.2.7"}};
    auto ethernet = bench.meter;
    ethernet.bus->kind = plan::BusKind::ethernet;
    Distances distances(bench.site);
    Meters const meters{&ethernet, &bench.meter};
    auto const lines = choose_lines(bench.site, meters, distances, bench.settings);
    (void)choose_addresses(bench.site, meters);
    CHECK(lines[0].standing == Standing::open);
    CHECK(bench.site.points[0].to_choose.address);
    CHECK(bench.site.points[1].address.gateway == "g");
    CHECK(bench.site.points[1].address.unit == 2);
}

TEST_CASE(
    "for drawn buildings every meter has a line, a place and a unit of its own, and no line carries too "
    "much") {
    std::mt19937 dice(19);
    for (int k = 0; k < 40; ++k) {
        Bench bench;
        int const panels = 1 + static_cast<int>(dice() % 15);
        bench.meter.bus->unit_load = std::vector{1.0, 0.5, 0.25, 0.125}[dice() % 4];
        for (int panel = 0; panel < panels; ++panel)
            bench.site.panels.push_back(at("p" + std::to_string(panel), static_cast<double>(dice() % 200),
                                           static_cast<double>(dice() % 200)));
        for (int panel = 0; panel < panels; ++panel)
            bench.add("p" + std::to_string(panel), static_cast<int>(dice() % 9));
        if (bench.site.points.empty()) continue;
        (void)bench.lay();
        std::map<std::string, std::set<int>> units;
        std::map<std::string, std::set<int>> places;
        for (auto const& point : bench.site.points) {
            REQUIRE_FALSE(point.to_choose.address);
            CHECK(point.address.unit >= 1);
            CHECK(point.address.unit <= 247);
            CHECK(units[point.address.serial_line].insert(point.address.unit).second);
            CHECK(places[point.address.serial_line].insert(point.address.position).second);
        }
        for (auto const& line : bench.site.serial_lines) {
            CHECK(static_cast<double>(units[line.id].size()) * *bench.meter.bus->unit_load <= 27.0);
            CHECK(*places[line.id].rbegin() == static_cast<int>(places[line.id].size()));
            CHECK(line.length_m <= 1000.0);
        }
    }
}

TEST_CASE("a meter that is documented for 40 devices on a line gets lines of 40, however light its load is") {
    Bench bench;
    bench.site.panels = {at("head", 0), at("far", 50)};
    bench.meter.bus->unit_load = 0.125;
    bench.meter.bus->most_devices = 40;
    bench.add("head", 50);
    bench.add("far", 31);
    (void)bench.lay();
    std::map<std::string, int> devices;
    for (auto const& point : bench.site.points) ++devices[point.address.serial_line];
    CHECK(devices.size() >= 3);
    for (auto const& [line, count] : devices) CHECK(count <= 40);
}
