// Plans for the tests of the checks: one in the manner of IEC and one in that of the NEC, described in full
// and with nothing that a rule would stop or have mended; the tests spoil one thing at a time.
#pragma once
#include <algorithm>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "core/checks/check_plan.hpp"

namespace phasewright::checks {

struct KnownMeter {
    plan::MeterHardware hardware;
    plan::TerminalNames terminals;
    std::vector<plan::Service> services;
};

struct TestPlan {
    plan::Site site;
    std::map<std::string, KnownMeter> meters;
    Limits limits;

    [[nodiscard]] std::vector<Finding> found() const {
        return check_plan(
            site,
            [this](std::string const& profile) -> std::optional<MeterFacts> {
                auto const known = meters.find(profile);
                if (known == meters.end()) return std::nullopt;
                return MeterFacts{&known->second.hardware, &known->second.terminals, known->second.services};
            },
            limits);
    }
    plan::MeteringPoint& point(std::size_t k) { return site.points.at(k); }
    plan::Panel& panel(std::size_t k) { return site.panels.at(k); }
    plan::MeterHardware& meter() { return meters.begin()->second.hardware; }
};

inline std::vector<Finding> of_rule(std::vector<Finding> const& findings, std::string_view rule) {
    std::vector<Finding> own;
    std::ranges::copy_if(findings, std::back_inserter(own),
                         [&](auto const& finding) { return finding.rule == rule; });
    return own;
}

// An invented meter: 5 A and 1 A inputs, 24 V dc, a serial line.
inline KnownMeter usual_meter() {
    KnownMeter meter;
    auto& hardware = meter.hardware;
    hardware.supply_terminals = {{"1", plan::SupplyRole::positive}, {"2", plan::SupplyRole::negative}};
    hardware.bus_terminals = {
        {"3", plan::BusRole::d1, "B"}, {"4", plan::BusRole::d0, "A"}, {"5", plan::BusRole::common, "C"}};
    hardware.current_inputs = {
        {.output = plan::CtOutput::five_amperes, .rated = 5.0, .most = 10.0, .burden_va = 0.5},
        {.output = plan::CtOutput::one_ampere, .rated = 1.0, .most = 10.0, .burden_va = 0.05}};
    hardware.voltage_inputs = plan::VoltageInputs{
        .most_ln = 300.0, .most_ll = 520.0, .least_ll = 90.0, .category = "CAT III 300 V"};
    using plan::WireUse;
    for (auto const use : {WireUse::voltage, WireUse::current, WireUse::supply, WireUse::bus})
        hardware.wires.push_back({.use = use,
                                  .mm2 = plan::Between{0.5, 4.0},
                                  .thinnest_awg = "20",
                                  .thickest_awg = "10",
                                  .strip_mm = 8.0});
    hardware.supply = plan::MeterSupply{.kind = plan::SupplyKind::ac_or_dc,
                                        .ac_v = plan::Between{20.0, 260.0},
                                        .dc_v = plan::Between{20.0, 60.0},
                                        .power_w = 2.0,
                                        .power_va = 3.0,
                                        .inrush_a = 1.0,
                                        .fuse_a = 4.0};
    hardware.limits =
        plan::MeterLimits{.temperature_c = plan::Between{-10.0, 55.0}, .humidity_percent = 90.0};
    hardware.bus = plan::MeterBus{.kind = plan::BusKind::serial,
                                  .bit_rates = {9600, 19200, 115200},
                                  .parities = {plan::Parity::even, plan::Parity::none},
                                  .stop_bits = {1, 2},
                                  .unit_load = 0.25,
                                  .most_devices = 64};
    meter.terminals.voltage = {"6", "7", "8"};
    meter.terminals.current = {{"9", "10"}, {"11", "12"}, {"13", "14"}};
    return meter;
}

inline plan::MeteringPoint usual_point(int number) {
    using namespace plan;
    MeteringPoint point;
    point.id = "tenant-" + std::to_string(number);
    point.name = point.id;
    point.panel = "main";
    point.way = "F" + std::to_string(number);
    point.service = Service::four_wire_wye;
    point.breaker_a = 63.0;
    point.usual_a = 30.0;
    point.least_a = 8.0;
    point.most_a = 60.0;
    point.rotation = Sequence::abc;
    point.ct = {.ratio = {100.0, 5.0},
                .output = CtOutput::five_amperes,
                .accuracy_class = "0.5",
                .model = {},
                .burden_va = 5.0,
                .most_percent = {},
                .window = Window{30.0, 30.0, true},
                .shorting = Shorting::block};
    point.meter_profile = "usual";
    point.meter_serial = "S" + std::to_string(number);
    point.address = {.host = {},
                     .port = 0,
                     .unit = number,
                     .gateway = {},
                     .serial_line = "line-1",
                     .position = number,
                     .distance_m = 5.0,
                     .drop_m = 1.0};
    point.cable = Cable{.size = ConductorSize{SizeUnit::mm2, 16.0},
                        .diameter_mm = 9.0,
                        .colours = {"brown", "black", "grey", "blue"}};
    point.lead = Lead{.length_m = 5.0,
                      .size = ConductorSize{SizeUnit::mm2, 2.5},
                      .metal = Metal::copper,
                      .strands = Strands::stranded,
                      .way_back = Return::own,
                      .temperature_c = 20.0};
    point.tap = VoltageTap{.size = ConductorSize{SizeUnit::mm2, 1.5},
                           .metal = Metal::copper,
                           .strands = Strands::solid,
                           .length_m = 2.0,
                           .unprotected_m = 0.5,
                           .protection = TapProtection::fuse,
                           .fuse_a = 2.0,
                           .breaking_ka = 50.0,
                           .let_through_a2s = 100.0};
    point.supply = SupplyFeed{.supply = "aux",
                              .length_m = 10.0,
                              .size = ConductorSize{SizeUnit::mm2, 1.5},
                              .polarity = Polarity::as_marked};
    point.parent = number == 1 ? "" : "tenant-1";
    return point;
}

inline TestPlan iec_plan() {
    using namespace plan;
    TestPlan test;
    auto& site = test.site;
    site.name = "a site";
    site.region = *region_of("iec");
    Panel main{.id = "main", .name = "main", .nominal = {230.0, 400.0, 50.0}};
    main.service = Service::four_wire_wye;
    main.breaker_a = 100.0;
    main.fault_ka = 10.0;
    main.enclosure = Enclosure{.stands = Whereabouts::indoor,
                               .protection = "IP54",
                               .entries = {CableEntry::bottom},
                               .temperature_c = DegreesCelsius{5.0, 40.0},
                               .humidity_percent = 70.0,
                               .condensation = false};
    for (int number = 1; number <= 3; ++number)
        main.ways.push_back({"F" + std::to_string(number),
                             {Conductor::a, Conductor::b, Conductor::c, Conductor::n},
                             63.0,
                             {}});
    site.panels.push_back(main);
    site.serial_lines.push_back({.id = "line-1",
                                 .name = "line-1",
                                 .device = {},
                                 .format = {},
                                 .answer_timeout_ms = 1000,
                                 .length_m = 50.0,
                                 .terminators = std::vector<int>{0, 3},
                                 .bias_at = 0,
                                 .labels = PairLabels{"B", "A"},
                                 .cable = "screened pair and common"});
    ControlSupply aux{.id = "aux", .name = "aux", .source = {}, .panel = {}, .way = {}};
    aux.kind = CurrentKind::dc;
    aux.volts = 24.0;
    aux.available_va = 10.0;
    aux.inrush_a = 5.0;
    aux.fuse_a = 2.0;
    site.supplies.push_back(aux);
    for (int number = 1; number <= 3; ++number) site.points.push_back(usual_point(number));
    site.sums.push_back({.id = "tenants",
                         .name = "tenants",
                         .plus = {"tenant-2", "tenant-3"},
                         .minus = {},
                         .compared_with = "tenant-1"});
    test.meters.emplace("usual", usual_meter());
    return test;
}

// 208Y/120 V; a high-leg shop panel; the same meter.
inline TestPlan nec_plan() {
    using namespace plan;
    auto test = iec_plan();
    auto& site = test.site;
    site.region = *region_of("north-america");
    site.panels[0].nominal = {120.0, 208.0, 60.0};
    site.panels[0].numbering = PoleNumbering::odd_left;
    site.panels[0].ways = {{"1", {Conductor::a, Conductor::b, Conductor::c, Conductor::n}, 100.0, {}},
                           {"7", {Conductor::a, Conductor::b, Conductor::n}, 60.0, {}},
                           {"13", {Conductor::a, Conductor::n}, 20.0, {}}};
    Panel shop = site.panels[0];
    shop.id = "shop";
    shop.name = "shop";
    shop.nominal = {120.0, 240.0, 60.0};
    shop.service = Service::high_leg_delta;
    shop.ways = {{"1", {Conductor::a, Conductor::b, Conductor::c, Conductor::n}, 100.0, {}},
                 {"7", {Conductor::a, Conductor::n}, 20.0, {}}};
    site.panels.push_back(shop);
    for (auto& point : site.points) {
        point.lead->size = ConductorSize{SizeUnit::awg, 12};
        point.tap->size = ConductorSize{SizeUnit::awg, 14};
        point.supply->size = ConductorSize{SizeUnit::awg, 14};
        point.cable->colours = {"black", "red", "blue", "white"};
        point.breaker_a = 100.0;
        point.usual_a = 50.0;
        point.parent = "";
    }
    site.sums.clear();
    site.points[0].way = "1";
    site.points[1].way = "7";
    site.points[1].service = Service::two_phases_of_wye;
    site.points[1].breaker_a = 60.0;
    site.points[1].cable->colours = {"black", "red", "white"};
    site.points[2].panel = "shop";
    site.points[2].way = "1";
    site.points[2].service = Service::high_leg_delta;
    site.points[2].cable->colours = {"black", "orange", "blue", "white"};
    return test;
}

}  // namespace phasewright::checks
