#include "core/report/plan_papers.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cctype>

using namespace phasewright;
using namespace phasewright::report;

namespace {

plan::Site site_of(std::string const& region = "iec") {
    plan::Site site{.name = "Somewhere"};
    site.region = *plan::region_of(region);
    site.panels.push_back({.id = "main", .name = "Main panel", .nominal = {230, 400, 50}});
    site.serial_lines.push_back(
        {.id = "line-1", .name = "Line 1", .length_m = 40, .terminators = std::vector{0, 2}, .bias_at = 0});
    return site;
}

plan::MeteringPoint point_of(plan::Service service, std::string id = "tenant-3") {
    plan::MeteringPoint point{
        .id = std::move(id), .name = "Tenant 3", .panel = "main", .way = "7", .service = service};
    point.ct = {.ratio = {200, 5}, .output = plan::CtOutput::five_amperes, .accuracy_class = "0.5"};
    point.address.serial_line = "line-1";
    point.address.position = 1;
    return point;
}

MeterFacts facts() {
    MeterFacts meter{.name = "Invented meter"};
    meter.terminals.voltage = {"1", "2", "3"};
    meter.terminals.neutral = "13";
    meter.terminals.current = {{"4", "6"}, {"7", "9"}, {"10", "12"}};
    meter.terminals_known = true;
    meter.hardware.wires.push_back(
        {.use = plan::WireUse::current, .strip_mm = 9, .torque_nm = plan::Between{0.5, 0.8}});
    return meter;
}

// Every text of a paper.
void gather(Paper const& paper, std::vector<std::string>& all) {
    all.insert(all.end(), {paper.title, paper.lead});
    all.insert(all.end(), paper.notes.begin(), paper.notes.end());
    if (auto const* const list = std::get_if<Checklist>(&paper.content)) {
        all.insert(all.end(), list->cautions.begin(), list->cautions.end());
        for (auto const& section : list->sections) {
            all.push_back(section.title);
            all.insert(all.end(), section.steps.begin(), section.steps.end());
        }
    }
    if (auto const* const tables = std::get_if<Tables>(&paper.content))
        for (auto const& table : tables->tables)
            for (auto const& row : table.rows) all.insert(all.end(), row.begin(), row.end());
    if (auto const* const labels = std::get_if<LabelSheet>(&paper.content))
        for (auto const& label : labels->labels) all.push_back(label.code);
}

bool has_word(std::string const& text, std::string_view word) {
    std::string low;
    for (char const c : text) low += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return low.find(word) != std::string::npos;
}

PaperTable const& table_of(Paper const& paper, std::size_t at = 0) {
    return std::get<Tables>(paper.content).tables[at];
}

std::vector<std::string> row_where(PaperTable const& table, std::size_t column, std::string const& text) {
    auto const found = std::ranges::find_if(table.rows, [&](auto const& row) { return row[column] == text; });
    REQUIRE(found != table.rows.end());
    return *found;
}

}  // namespace

TEST_CASE("each service has the taps and the transformers that its elements want") {
    // Blondel 1893: wires minus one elements with a common return; two-CT services derive one current.
    struct Wanted {
        plan::Service service;
        std::size_t taps, cts;  // the neutral's tap among them
    };
    for (auto const& [service, taps, cts] :
         {Wanted{plan::Service::one_phase_two_wire, 2, 1},
          Wanted{plan::Service::split_phase_three_wire, 3, 2}, Wanted{plan::Service::two_phases_of_wye, 3, 2},
          Wanted{plan::Service::four_wire_wye, 4, 3}, Wanted{plan::Service::three_wire_three_ct, 3, 3},
          Wanted{plan::Service::three_wire_two_element, 3, 2}, Wanted{plan::Service::three_wire_two_ct, 3, 2},
          Wanted{plan::Service::four_wire_two_ct, 4, 2}, Wanted{plan::Service::high_leg_delta, 4, 3},
          Wanted{plan::Service::corner_earthed_delta, 3, 2}}) {
        auto const wiring = wiring_of(site_of(), point_of(service), facts());
        INFO(plan::code_of(service));
        CHECK(wiring.taps.size() == taps);
        CHECK(wiring.cts.size() == cts);
    }
}

TEST_CASE("a current loop goes over its block and is earthed once, where its S2 sides meet") {
    auto const wiring = wiring_of(site_of(), point_of(plan::Service::four_wire_wye), facts());
    CHECK(wiring.block);
    auto const earths = std::ranges::count_if(wiring.wires, [](auto const& wire) {
        return wire.to.device == Device::earth && wire.from.device == Device::block;
    });
    CHECK(earths == 1);
    auto const to = [&](Device from, Device at) {
        return std::ranges::count_if(
            wiring.wires, [&](auto const& wire) { return wire.from.device == from && wire.to.device == at; });
    };
    CHECK(to(Device::ct, Device::block) == 6);
    CHECK(to(Device::block, Device::meter) == 6);
    CHECK(to(Device::block, Device::block) == 2);
    CHECK(to(Device::conductor, Device::fuse) == 3);
    CHECK(to(Device::conductor, Device::meter) == 1);  // the neutral has no fuse
    auto const& last = *std::ranges::find_if(wiring.wires, [](auto const& wire) {
        return wire.says == "L3 S2" && wire.to.device == Device::meter;
    });
    CHECK(joint_words(last.from) == "block 6");
    CHECK(joint_words(last.to) == "meter 12");
}

TEST_CASE("a millivolt transformer has no block, no earth and no caution against opening it") {
    auto point = point_of(plan::Service::four_wire_wye);
    point.ct.output = plan::CtOutput::millivolts;
    point.ct.ratio = {200, 0.333};
    auto const wiring = wiring_of(site_of(), point, facts());
    CHECK(!wiring.block);
    CHECK(wiring.ct_words == "200 A/333 mV, class 0.5");
    CHECK(std::ranges::none_of(wiring.wires, [](auto const& wire) {
        return wire.to.device == Device::earth || wire.to.device == Device::block;
    }));
    std::vector<std::string> all;
    gather(checklist_paper(site_of(), point, wiring, facts()), all);
    CHECK(std::ranges::none_of(all, [](auto const& text) { return has_word(text, "never opened"); }));
    CHECK(
        std::ranges::any_of(all, [](auto const& text) { return has_word(text, "never go to a 5 a input"); }));
}

TEST_CASE("an S2 side that is earthed inside the meter is not earthed a second time") {
    auto meter = facts();
    meter.hardware.current_inputs.push_back(
        {.output = plan::CtOutput::five_amperes, .low_side_earthed = true});
    auto const wiring = wiring_of(site_of(), point_of(plan::Service::four_wire_wye), meter);
    CHECK(!wiring.earthed_at_block);
    CHECK(std::ranges::any_of(wiring.notes,
                              [](auto const& note) { return has_word(note, "no second point"); }));
}

TEST_CASE("the checklist begins with cautions and shorts before it opens; nothing is ever called safe") {
    auto const site = site_of();
    for (auto const service : plan::all_services)
        for (auto const output : {plan::CtOutput::five_amperes, plan::CtOutput::millivolts,
                                  plan::CtOutput::coil, plan::CtOutput::unknown}) {
            auto point = point_of(service);
            point.ct.output = output;
            auto const wiring = wiring_of(site, point, facts());
            std::vector<PlannedPoint> const points{{&point, facts()}};
            std::vector<std::string> all;
            for (auto const& paper : plan_papers(site, points)) gather(paper, all);
            CHECK(std::ranges::none_of(all, [](auto const& text) { return has_word(text, "safe"); }));
            auto const paper = checklist_paper(site, point, wiring, facts());
            auto const& list = std::get<Checklist>(paper.content);
            REQUIRE(list.cautions.size() >= 3);
            CHECK(has_word(list.cautions.front(), "kill"));
            if (!plan::is_current_loop(output)) continue;
            std::vector<std::string> steps;
            for (auto const& section : list.sections)
                steps.insert(steps.end(), section.steps.begin(), section.steps.end());
            auto const first = [&](std::string_view word) {
                return std::ranges::find_if(steps, [&](auto const& step) { return has_word(step, word); }) -
                       steps.begin();
            };
            CHECK(first("short all pairs") < first("open the short"));
            CHECK(first("open the short") < static_cast<std::ptrdiff_t>(steps.size()));
            CHECK(first("known live source") < first("place of work"));
        }
}

TEST_CASE("what nobody has said stays blank in the schedule") {
    auto const wiring = wiring_of(site_of(), point_of(plan::Service::four_wire_wye), facts());
    auto const paper = schedule_paper(site_of().region, wiring, facts().hardware);
    auto const row = row_where(table_of(paper), 2, "meter 4");
    CHECK(row[5].empty());  // size
    CHECK(row[6].empty());  // length
    CHECK(row[7] == "9");
    CHECK(row[8] == "0.5\u20130.8");
    CHECK(row_where(table_of(paper), 2, "meter 1")[7]
              .empty());  // the profile says nothing of the voltage terminals
}

TEST_CASE("where sizes are AWG, torque is in pound-inches, strip length in inches, length in feet") {
    auto const site = site_of("north-america");
    // 1 lbf in = 0.1129848 N m (NIST SP 811, appendix B.8, from memory): 0.5 and 0.8 N m are 4.43 and 7.08; 9
    // mm are 0.354 in.
    CHECK(torque_words(site.region, facts().hardware, plan::WireUse::current) == "4.4\u20137.1");
    CHECK(strip_words(site.region, facts().hardware, plan::WireUse::current) == "0.35");
    CHECK(length_words(site.region, 15.24) == "50\u00a0ft");  // 50 ft exactly
    CHECK(length_words(site_of().region, 15.24) == "15.24\u00a0m");
}

TEST_CASE("lead wire is counted there and back, with a common return once back") {
    for (auto const& [way_back, wanted] :
         {std::pair{plan::Return::own, "60"}, std::pair{plan::Return::common, "40"}}) {
        auto const site = site_of();
        auto point = point_of(plan::Service::four_wire_wye);
        point.lead =
            plan::Lead{.length_m = 10, .size = plan::conductor_size_of("2.5 mm2"), .way_back = way_back};
        auto const paper = bill_of_materials(site, {{&point, facts()}});
        auto const row = row_where(table_of(paper), 0, "CT lead");
        CHECK(row[1] == "2.5\u00a0mm\u00b2");
        CHECK(row[2] == wanted);
        CHECK(row[3] == "m");
        CHECK(row_where(table_of(paper), 0, "shorting block")[1] ==
              (way_back == plan::Return::own ? "6 terminals" : "4 terminals"));
    }
}

TEST_CASE("poles of a panel stand on their sides with their phases") {
    // Common practice, no standard (docs/reference/plan.md): 21 is B, 24 is C, 37 is A, 42 is C.
    auto site = site_of("north-america");
    auto& panel = site.panels.front();
    panel.numbering = plan::PoleNumbering::odd_left;
    using enum plan::Conductor;
    panel.ways = {{.id = "1", .conductors = {a, b, c}, .breaker_a = 100, .name = "Compressor"},
                  {.id = "42", .conductors = {c}, .name = "Lights"}};
    auto const paper = panel_schedule(site, panel);
    auto const& table = table_of(paper, 1);
    CHECK(row_where(table, 3, "21")[4] == "B");
    CHECK(row_where(table, 5, "24")[4] == "C");
    CHECK(row_where(table, 3, "37")[4] == "A");
    CHECK(row_where(table, 5, "42")[4] == "C");
    CHECK(row_where(table, 3, "1")[0] == "Compressor");
    CHECK(row_where(table, 3, "5")[0] == "\u2033");
    CHECK(row_where(table, 3, "7")[0].empty());
    CHECK(row_where(table, 5, "42")[7] == "Lights");
}

TEST_CASE("ways stand in the order of their numbers") {
    CHECK(ways_in_order("F2", "F10"));
    CHECK(!ways_in_order("F10", "F2"));
    CHECK(ways_in_order("9", "10"));
    CHECK(ways_in_order("F9", "Q1"));
    CHECK(!ways_in_order("7", "7"));
    CHECK(ways_in_order("7", "7a"));
}

TEST_CASE("a serial line stands in the order of its cable, with what is said of its ends") {
    auto site = site_of();
    site.points = {point_of(plan::Service::four_wire_wye, "second"),
                   point_of(plan::Service::four_wire_wye, "first")};
    site.points[0].address.position = 2;
    site.points[0].address.distance_m = 12;
    site.points[0].name = "Second";
    site.points[1].name = "First";
    auto const paper = bus_paper(site, site.serial_lines.front());
    auto const& run = std::get<BusRun>(paper.content);
    REQUIRE(run.stations.size() == 3);
    CHECK(run.stations[1].name == "First");
    CHECK(run.stations[1].cable.empty());
    CHECK(run.stations[1].terminator == false);
    CHECK(run.stations[2].cable == "12\u00a0m");
    CHECK(run.stations[2].terminator == true);
    CHECK(run.stations[0].bias == true);
    site.serial_lines.front().terminators.reset();
    auto const unsaid = bus_paper(site, site.serial_lines.front());
    CHECK(!std::get<BusRun>(unsaid.content).stations[0].terminator.has_value());
}

TEST_CASE("every transformer has a label and every pair of leads has one at either end") {
    auto const site = site_of();
    auto const point = point_of(plan::Service::four_wire_wye);
    auto const paper = label_paper(site, point, wiring_of(site, point, facts()));
    auto const& labels = std::get<LabelSheet>(paper.content).labels;
    CHECK(labels.size() == 3 + 3 * 4);
    CHECK(labels[0].code ==
          "Somewhere\ntenant-3 CT L1\n200/5 A, class 0.5\nP1 to the source\nnever open under load");
    CHECK(std::ranges::any_of(labels, [](auto const& label) {
        return label.code.ends_with("here: meter 7+9\ncomes from: block 3+4");
    }));
}

TEST_CASE("elements that are planned otherwise are drawn as planned") {
    auto point = point_of(plan::Service::two_phases_of_wye);
    point.elements = {{.plus = plan::Conductor::a, .minus = plan::Conductor::b, .ct = plan::Conductor::a}};
    auto const wiring = wiring_of(site_of(), point, facts());
    CHECK(wiring.cts.size() == 1);
    CHECK(wiring.taps.size() == 2);
    CHECK(wiring.conductors.size() == 3);  // the neutral runs along; no terminal takes it
    CHECK(std::ranges::any_of(wiring.notes,
                              [](auto const& note) { return has_word(note, "planned otherwise"); }));
}
