#include <doctest/doctest.h>

#include <algorithm>
#include <cstdlib>
#include <fstream>
#include <set>

#include "print/drawing/layout.hpp"

using namespace phasewright;
using namespace phasewright::drawing;

namespace {

plan::Site site_with(std::string const& region, plan::Nominal nominal) {
    plan::Site site{.name = "Somewhere"};
    site.region = *plan::region_of(region);
    site.panels.push_back({.id = "main", .name = "Main panel", .nominal = nominal});
    site.serial_lines.push_back({.id = "line-1", .name = "Line 1"});
    site.supplies.push_back({.id = "t1", .name = "T1", .kind = plan::CurrentKind::dc, .volts = 24});
    return site;
}

plan::MeteringPoint point_of(plan::Service service) {
    plan::MeteringPoint point{.id = "p",
                              .name = "Point",
                              .panel = "main",
                              .way = "7",
                              .purpose = "whatever is behind it",
                              .service = service};
    point.ct = {.ratio = {200, 5}, .output = plan::CtOutput::five_amperes, .accuracy_class = "0.5"};
    point.address.serial_line = "line-1";
    point.address.unit = 12;
    return point;
}

report::MeterFacts facts(bool known) {
    report::MeterFacts meter{.name = known ? "Invented meter" : ""};
    meter.terminals.voltage = {"1", "2", "3"};
    meter.terminals.neutral = "13";
    meter.terminals.current = {{"4", "6"}, {"7", "9"}, {"10", "12"}};
    meter.terminals_known = known;
    if (known) {
        meter.hardware.supply_terminals = {{"14", plan::SupplyRole::positive},
                                           {"15", plan::SupplyRole::negative}};
        meter.hardware.bus_terminals = {{"16", plan::BusRole::d1, "+"},
                                        {"17", plan::BusRole::d0, "-"},
                                        {"18", plan::BusRole::common, "C"},
                                        {"19", plan::BusRole::shield, ""},
                                        {"E", plan::BusRole::socket, ""}};
        meter.hardware.earth_terminal = "20";
    }
    return meter;
}

void keep(Layout const& layout, std::string const& name) {
    if (auto const* const folder = std::getenv("PHASEWRIGHT_KEEP_DRAWINGS")) {
        std::ofstream out(std::string(folder) + "/" + name + ".svg");
        auto text = svg_of(drawn(layout), name);
        out << text.replace(text.find("<svg "), 5,
                            "<svg style=\"background:#fff;font-family:Inter\" width=\"1116\" ");
    }
}

void check_drawing(report::PointWiring const& wiring, std::string const& name) {
    auto const layout = wiring_layout(wiring);
    keep(layout, name);
    INFO(name);
    auto const drawing = drawn(layout);
    for (std::size_t k = 0; k < drawing.letters.size(); ++k) {
        bool const crossed = std::ranges::any_of(
            drawing.segments, [&](auto const& one) { return touch(drawing.letters[k], one); });
        CHECK_MESSAGE(!crossed, "a line runs through: ", layout.words[k].text);
    }
    CHECK(slanting(layout) == 0);
    CHECK(nets_along_each_other(layout) == 0);
    CHECK(letters_in_the_way(drawn(layout)) == 0);
    std::set<int> listed, routed;
    for (auto const& wire : wiring.wires) listed.insert(wire.number);
    for (auto const& route : layout.routes)
        if (route.wire > 0) routed.insert(route.wire);
    CHECK(listed == routed);
}

struct Made {
    plan::CtOutput output;
    plan::Shorting shorting;
    plan::Return way_back;
    bool vt;
};

}  // namespace

TEST_CASE(
    "every service with every kind of current transformer is drawn at right angles, clear of its letters") {
    auto const nominal_of = [](std::string const& region) {
        return region == "iec" ? plan::Nominal{230, 400, 50} : plan::Nominal{120, 208, 60};
    };
    for (auto const* const region : {"iec", "north-america"}) {
        auto const site = site_with(region, nominal_of(region));
        for (auto const service : plan::all_services)
            for (auto const output :
                 {plan::CtOutput::five_amperes, plan::CtOutput::one_ampere, plan::CtOutput::millivolts,
                  plan::CtOutput::milliamperes, plan::CtOutput::coil, plan::CtOutput::unknown})
                for (bool const known : {true, false})
                    for (bool const common : {false, true})
                        for (bool const vt : {false, true}) {
                            auto point = point_of(service);
                            point.ct.output = output;
                            if (!plan::is_current_loop(output)) point.ct.ratio = {200, 0.333};
                            if (common)
                                point.lead = plan::Lead{.length_m = 18, .way_back = plan::Return::common};
                            if (vt) point.vt = quantity::TransformerRatio{7200, 120};
                            check_drawing(report::wiring_of(site, point, facts(known)),
                                          std::string(region) + "-" + std::string(plan::code_of(service)) +
                                              "-" + std::string(plan::name_of(output)) +
                                              (known ? "" : "-unnamed") + (common ? "-common" : "") +
                                              (vt ? "-vt" : ""));
                        }
    }
}

TEST_CASE("one, two and three one-phase branches on one meter are drawn, on one phase and on several") {
    auto const site = site_with("iec", {230, 400, 50});
    using enum plan::Conductor;
    for (auto const& phases :
         {std::vector{c}, std::vector{a, b}, std::vector{a, a}, std::vector{a, b, c}, std::vector{b, b, b}}) {
        auto point = point_of(plan::Service::one_phase_two_wire);
        for (auto const phase : phases)
            point.model_options.branches.push_back(
                {"lights-of-floor-" + std::to_string(point.model_options.branches.size()), phase});
        check_drawing(report::wiring_of(site, point, facts(true)),
                      "branches-" + std::to_string(phases.size()));
        CHECK(report::wiring_of(site, point, facts(true)).cts.size() == phases.size());
    }
}

TEST_CASE("each protection of the taps, each way of shorting and each way of feeding the meter is drawn") {
    auto const site = site_with("iec", {230, 400, 50});
    for (auto const protection : {plan::TapProtection::fuse, plan::TapProtection::breaker,
                                  plan::TapProtection::panel, plan::TapProtection::nothing})
        for (auto const shorting : {plan::Shorting::none, plan::Shorting::block, plan::Shorting::switch_,
                                    plan::Shorting::built_in}) {
            auto point = point_of(plan::Service::four_wire_wye);
            point.tap = plan::VoltageTap{.protection = protection, .fuse_a = 2};
            point.ct.shorting = shorting;
            point.supply =
                plan::SupplyFeed{.supply = shorting == plan::Shorting::none ? "" : "t1",
                                 .polarity = shorting == plan::Shorting::block ? plan::Polarity::crossed
                                                                               : plan::Polarity::as_marked};
            point.breaker_a = 630;
            point.meter_serial = "24101233";
            auto const wiring = report::wiring_of(site, point, facts(true));
            CHECK(wiring.block == (shorting == plan::Shorting::block || shorting == plan::Shorting::switch_));
            check_drawing(wiring, "protection-" + std::string(name_of(protection)) + "-" +
                                      std::string(name_of(shorting)));
        }
}

TEST_CASE("as wired over as planned: the wrong leads are heavy and every move has its number") {
    auto const site = site_with("iec", {230, 400, 50});
    auto const wiring = report::wiring_of(site, point_of(plan::Service::four_wire_wye), facts(true));
    auto wired = wiring.wires;
    // L2's pair is exchanged at the meter.
    std::vector<std::size_t> at;
    for (std::size_t k = 0; k < wired.size(); ++k)
        if (wired[k].to.device == report::Device::meter &&
            (wired[k].to.key == "1s1" || wired[k].to.key == "1s2"))
            at.push_back(k);
    REQUIRE(at.size() == 2);
    std::swap(wired[at[0]].to, wired[at[1]].to);
    auto const layout = wiring_layout(wiring, &wired);
    keep(layout, "overlay");
    CHECK(std::ranges::count_if(layout.routes,
                                [](auto const& route) { return route.weight == Weight::heavy; }) == 2);
    CHECK(std::ranges::count_if(layout.shapes,
                                [](auto const& shape) { return shape.kind == ShapeKind::number; }) == 2);
    CHECK(slanting(layout) == 0);
    CHECK(nets_along_each_other(layout) == 0);
}

TEST_CASE("a drawing that runs one net along another, or a line through a letter, is caught") {
    Layout layout{.width = 100, .height = 100};
    layout.routes.push_back({"one", 1, -1, Weight::lead, {{0, 10}, {50, 10}}});
    layout.routes.push_back({"two", 2, -1, Weight::lead, {{40, 11}, {90, 11}}});
    layout.routes.push_back({"two", 2, -1, Weight::lead, {{90, 11}, {95, 30}}});
    layout.words.push_back({{10, 14}, "P1", {.size = 14}});
    CHECK(nets_along_each_other(layout) == 1);
    CHECK(slanting(layout) == 1);
    CHECK(letters_in_the_way(drawn(layout)) == 1);
    layout.routes[1].net = "one";
    CHECK(nets_along_each_other(layout) == 0);
}
