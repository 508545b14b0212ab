// Supplies: what a meter hangs on, with the sums by hand.
#include "core/design/choose_supply.hpp"

#include <doctest/doctest.h>

#include "core/design/parts_for_tests.hpp"

using namespace phasewright;
using namespace phasewright::design;

namespace {
struct Bench {
    plan::Site site;
    Catalogue catalogue = small_catalogue();
    plan::MeterHardware meter = five_ampere_meter();
    Settings settings;
    Bench() {
        site.panels = {panel_400("main"), panel_400("far")};
        site.runs = {{"main", "far", 40.0}};
        for (auto const* id : {"one", "two", "three", "four"}) site.points.push_back(point_in("main", id));
        meter.supply = plan::MeterSupply{.kind = plan::SupplyKind::dc,
                                         .dc_v = plan::Between{20.0, 30.0},
                                         .power_va = 8.0,
                                         .inrush_a = 3.0};
    }
    std::vector<Proposal> all() {
        Distances distances(site);
        Supplies supplies(site, catalogue, settings, distances);
        std::vector<Proposal> proposals;
        for (auto& point : site.points) proposals.push_back(supplies.choose(point, site.panels[0], meter));
        return proposals;
    }
};
plan::ControlSupply dc_24(std::string const& id, std::string const& panel, double va) {
    return {.id = id,
            .name = id,
            .source = {},
            .panel = panel,
            .way = {},
            .kind = plan::CurrentKind::dc,
            .volts = 24.0,
            .available_va = va};
}
}  // namespace

TEST_CASE(
    "three meters of 8 VA with a quarter to spare are 30 VA: the fourth does not go on a supply of 30 VA") {
    Bench bench;
    bench.site.supplies = {dc_24("psu", "main", 30.0)};
    auto const proposals = bench.all();
    CHECK(bench.site.points[0].supply->supply == "psu");
    CHECK(bench.site.points[2].supply->supply == "psu");
    CHECK(proposals[3].standing == Standing::open);  // the small catalogue has no supply
    REQUIRE(proposals[3].others.size() == 1);
    CHECK(proposals[3].others[0].because.find("40 VA would hang on its 30 VA") != std::string::npos);
}

TEST_CASE("the nearer supply is taken, and the inrush of all its meters counts") {
    Bench bench;
    bench.site.supplies = {dc_24("away", "far", 100.0), dc_24("here", "main", 100.0)};
    bench.site.supplies[1].inrush_a = 7.0;  // two of 3 A
    (void)bench.all();
    CHECK(bench.site.points[0].supply->supply == "here");
    CHECK(bench.site.points[1].supply->supply == "here");
    CHECK(bench.site.points[2].supply->supply == "away");
    CHECK(bench.site.points[2].supply->length_m == doctest::Approx(42.0));
}

TEST_CASE("the wire keeps the drop within 5 %: 8 VA at 24 V over 42 m of 1.5 mm2 lose 1.4 %") {
    // 2 x 42 m x 12.1 ohm/km (IEC 60228) x 0.333 A = 0.339 V of 24 V
    Bench bench;
    bench.site.supplies = {dc_24("away", "far", 100.0)};
    auto const proposals = bench.all();
    CHECK(plan::text_of(*bench.site.points[0].supply->size) == "1.5 mm2");
    bool said = false;
    for (auto const& reason : proposals[0].reasons)
        said = said || reason.find("lose 1.41 %") != std::string::npos;
    CHECK(said);
}

TEST_CASE("a meter made for it lives on the voltages that it measures") {
    Bench bench;
    bench.meter.supply = plan::MeterSupply{.kind = plan::SupplyKind::voltage_inputs, .power_va = 3.0};
    (void)bench.all();
    REQUIRE(bench.site.points[0].supply.has_value());
    CHECK(bench.site.points[0].supply->supply.empty());
    CHECK(bench.site.supplies.empty());
}

TEST_CASE(
    "an ac meter takes its panel's own voltage behind one fuse for all, within what its profile allows in "
    "front") {
    Bench bench;
    bench.meter.supply = plan::MeterSupply{
        .kind = plan::SupplyKind::ac, .ac_v = plan::Between{85.0, 265.0}, .power_va = 4.0, .fuse_a = 1.0};
    (void)bench.all();
    REQUIRE(bench.site.supplies.size() == 1);
    CHECK(bench.site.supplies[0].fuse_a == 1.0);
    CHECK(bench.site.supplies[0].available_va == doctest::Approx(230.0));
    for (auto const& point : bench.site.points) CHECK(point.supply->supply == bench.site.supplies[0].id);
}

TEST_CASE(
    "meters that are not isolated from their bus share no ac supply: a loop through the common could close") {
    Bench bench;
    bench.meter.supply = plan::MeterSupply{.kind = plan::SupplyKind::ac,
                                           .ac_v = plan::Between{20.0, 30.0},
                                           .power_va = 4.0,
                                           .isolated_from_bus = false};
    bench.catalogue.supplies = {{.model = "t",
                                 .kind = plan::CurrentKind::ac,
                                 .input_v = {220.0, 240.0},
                                 .volts = 24.0,
                                 .available_va = 63.0}};
    (void)bench.all();
    CHECK(bench.site.supplies.size() == 4);
}
