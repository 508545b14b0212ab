// A plan that is written reads back as the same plan (docs/reference/plan.md, "Written by a program"). That page is the
// source: there is nothing outside to hold this against but the reader.
#include "app/commands/plan_writer.hpp"

#include <doctest/doctest.h>

#include "app/commands/plan_file.hpp"
#include "app/commands/whole_file.hpp"

using namespace phasewright;

namespace {
plan::Site read_back(plan::Site const& site) {
    auto const text = commands::write_plan(site);
    auto const again = commands::read_draft(text, "written.plan.toml");
    if (!again) FAIL(quantity::to_sentence(again.error()) << "\n" << text);
    CHECK(commands::write_plan(*again) == text);
    return *again;
}

plan::Cable every_cable() {
    return {.size = plan::ConductorSize{plan::SizeUnit::awg, -3},
            .diameter_mm = 16.31,
            .metal = plan::Metal::aluminium,
            .strands = plan::Strands::stranded,
            .colours = {"brown", "orange", "yellow", "gray"}};
}

plan::Panel every_panel() {
    plan::Panel panel{.id = "attic", .name = "Attic \"north\"\\", .nominal = {277.0, 480.0, 60.0}};
    panel.room = "loft";
    panel.service = plan::Service::four_wire_wye;
    panel.fed_from = "main";
    panel.fed_from_way = "7";
    panel.breaker_a = 225.0;
    panel.fault_ka = 14.5;
    panel.feeder = every_cable();
    panel.numbering = plan::PoleNumbering::in_turn;
    using enum plan::Conductor;
    panel.ways = {{"1", {a, b, c}, 60.0, "pumps"}, {"2", {b, n}, 20.0, ""}, {"3", {}, std::nullopt, "spare"}};
    panel.enclosure = plan::Enclosure{.stands = plan::Whereabouts::outdoor,
                                      .protection = "IP54",
                                      .entries = {plan::CableEntry::top, plan::CableEntry::back},
                                      .temperature_c = plan::DegreesCelsius{-20.0, 45.5},
                                      .humidity_percent = 95.0,
                                      .condensation = true};
    panel.colours = "above-300";
    panel.place = plan::PlaceInBuilding{1.5, -2.0, 9.0};
    return panel;
}

plan::MeteringPoint every_point() {
    plan::MeteringPoint point{.id = "pumps", .name = "Pumps, \xe2\x84\x96 1", .panel = "attic"};
    point.way = "1";
    point.parent = "whole";
    point.installed = false;
    point.service = plan::Service::high_leg_delta;
    point.model_options.high_leg = plan::Conductor::c;
    point.purpose = "line one\nline two\ttab";
    point.purpose_kind = plan::PurposeKind::billing;
    point.load_kind = plan::LoadKind::motor;
    point.flow = plan::Flow::both;
    point.breaker_a = 60.0;
    point.least_a = 0.1 + 0.2;  // a number that needs all its digits
    point.usual_a = 31.0;
    point.most_a = 1e3;
    point.power_factor = 0.8;
    point.accuracy_percent = 1.5;
    point.cables_per_phase = 2;
    point.cable = every_cable();
    point.rotation = plan::Sequence::acb;
    point.elements = {{plan::Conductor::a, plan::Conductor::b, plan::Conductor::a}};
    point.ct = {.ratio = {200.0, 0.333},
                .output = plan::CtOutput::millivolts,
                .accuracy_class = "0.5S",
                .model = "M-1",
                .burden_va = 2.5,
                .most_percent = 120.0,
                .window = plan::Window{30.0, 20.0, false},
                .shorting = plan::Shorting::switch_};
    point.vt = quantity::TransformerRatio{480.0, 120.0};
    point.vt_made = plan::VoltageTransformer{"V-1", "0.5", 25.0};
    point.lead = plan::Lead{6.5, plan::ConductorSize{plan::SizeUnit::awg, 12}, plan::Metal::copper, plan::Strands::solid,
                            plan::Return::common, 40.0};
    point.tap = plan::VoltageTap{plan::ConductorSize{plan::SizeUnit::mm2, 1.5}, plan::Metal::copper, plan::Strands::flexible,
                                 3.0, 0.5, plan::TapProtection::fuse, 2.0, 100.0, 21.0};
    point.meter_profile = "tarnfell-t3";
    point.meter_serial = "0042";
    point.demand_interval_min = 15.0;
    point.supply = plan::SupplyFeed{"loft-24", 12.0, plan::ConductorSize{plan::SizeUnit::mm2, 0.75}, plan::Polarity::crossed,
                                    4.0, 6.0, true};
    point.address = {.host = {}, .port = 0, .unit = 9, .gateway = {}, .serial_line = "line", .position = 3,
                     .distance_m = 12.5, .drop_m = 0.0, .labels = plan::PairLabels{"+", "-"}};
    point.overruled = {{"ct", "three of these lie in the store", "A. Person"}, {"tap", "as built", ""}};
    point.extra = {{"Cost centre", "0815"}, {"Bemerkung", "mit \"Haken\""}};
    return point;
}

// Every field of the model stands at something else than its default in one entry at least.
plan::Site every_field() {
    plan::Site site;
    site.name = "Every field";
    site.place = "on paper";
    site.region = *plan::region_of("north-america");
    REQUIRE(plan::use_names(site.region, "a-b-c"));
    site.utc_offset_min = -210;
    site.first_commissioning = false;
    site.rooms = {{"loft", "Loft", "fourth floor"}, {"cellar", "cellar", ""}};
    site.panels = {{.id = "main", .name = "main", .nominal = {277.0, 480.0, 60.0}}, every_panel()};
    site.panels[1].colours = site.region.colour_sets.empty() ? "" : site.region.colour_sets.front().id;
    site.supplies = {{"loft-24", "Loft 24 V", "transformer", "attic", "2", plan::CurrentKind::dc, 24.0, 60.0, 10.0, 4.0, true},
                     {.id = "bare", .name = "bare", .source = {}, .panel = {}, .way = {}, .volts = 120.0}};
    site.gateways = {{"door", "Door", "192.0.2.4", 1502}};
    plan::SerialLine line{.id = "line", .name = "Line", .device = "/dev/ttyUSB0"};
    line.format = {9600, plan::Parity::none, 1};
    line.answer_timeout_ms = 250;
    line.length_m = 140.0;
    line.cable = "pair";
    line.panel = "attic";
    line.terminators = std::vector<int>{0, 3};
    line.bias_at = 0;
    line.labels = plan::PairLabels{"B", "A"};
    site.serial_lines = {line};
    site.runs = {{"main", "attic", 22.5}};
    plan::MeteringPoint whole{.id = "whole", .name = "whole", .panel = "main"};
    whole.to_choose = {true, true, true};
    plan::MeteringPoint branches{.id = "branches", .name = "Branches", .panel = "main"};
    branches.service = plan::Service::one_phase_two_wire;
    branches.model_options.branches = {{"k1", plan::Conductor::b, "7", false}, {"k2", plan::Conductor::a, "", true}};
    branches.ct.window = plan::Window{21.0, 21.0, true};
    branches.meter_profile = "sunspec";
    branches.supply = plan::SupplyFeed{};  // from the voltage inputs
    branches.address = {.host = "192.0.2.4", .port = 1502, .unit = 0, .gateway = "door", .serial_line = {}, .labels = {}};
    plan::MeteringPoint alone = branches;
    alone.id = "alone";
    alone.address = {.host = "192.0.2.5", .port = 502, .unit = 1, .gateway = {}, .serial_line = {}, .labels = {}};
    site.points = {whole, every_point(), branches, alone};
    site.sums = {{"both", "Both", {"pumps", "branches"}, {}, "whole"}, {"rest", "rest", {"whole"}, {"both"}, ""}};
    return site;
}
}  // namespace

TEST_CASE("a plan that uses every field reads back as the same plan") {
    auto const site = every_field();
    auto const again = read_back(site);
    REQUIRE(again.points.size() == site.points.size());
    for (std::size_t k = 0; k < site.points.size(); ++k) CHECK(again.points[k] == site.points[k]);
    for (std::size_t k = 0; k < site.panels.size(); ++k) CHECK(again.panels[k] == site.panels[k]);
    CHECK(again.region == site.region);
    CHECK(again.supplies == site.supplies);
    CHECK(again.serial_lines == site.serial_lines);
    CHECK(again == site);
}

TEST_CASE("both demo plans read back as the same plans, with what is planned for later") {
    for (std::string const name : {"tallowmere-yard", "cindervale-block"}) {
        CAPTURE(name);
        auto const file = std::string{PHASEWRIGHT_SOURCE_DIR} + "/demo/" + name + ".plan.toml";
        auto const text = commands::text_of(file, "the plan");
        REQUIRE(text);
        auto const site = commands::read_draft(*text, file);
        if (!site) FAIL(quantity::to_sentence(site.error()));
        CHECK(read_back(*site) == *site);
        auto const built = commands::read_plan(*text, file);
        if (!built) FAIL(quantity::to_sentence(built.error()));
        CHECK(built->points.size() + 1 == site->points.size());
    }
}

TEST_CASE("what is planned for later is left out for those who read meters, and its sums go on without it") {
    auto site = every_field();
    for (auto& point : site.points) point.to_choose = {};
    site.points[0].meter_profile = site.points[1].meter_profile = "sunspec";
    site.points[0].address = {.host = "192.0.2.6", .port = 502, .unit = 1, .gateway = {}, .serial_line = {}, .labels = {}};
    site.points[2].model_options.branches.pop_back();
    site.points[3].model_options.branches.pop_back();
    site.points[3].parent = "pumps";
    site.sums.push_back({"only-later", "only-later", {"pumps"}, {}, ""});
    site.sums.push_back({"against-later", "against-later", {"alone", "only-later"}, {}, "pumps"});
    auto const read = commands::read_plan(commands::write_plan(site), "later.plan.toml");
    if (!read) FAIL(quantity::to_sentence(read.error()));
    REQUIRE(read->points.size() == 3);
    CHECK(read->points[2].parent.empty());
    REQUIRE(read->sums.size() == 3);
    CHECK(read->sums[0].plus == std::vector<std::string>{"branches"});
    CHECK(read->sums[2].id == "against-later");
    CHECK(read->sums[2].plus == std::vector<std::string>{"alone"});
    CHECK(read->sums[2].compared_with.empty());
}
