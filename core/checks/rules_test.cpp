// Every rule has an example on which it fires, and stays silent on the plan that the example spoils. A rule
// without one fails here.
#include <doctest/doctest.h>

#include <functional>
#include <set>

#include "core/checks/plan_in_tests.hpp"
#include "core/checks/rule.hpp"

using namespace phasewright;
using namespace phasewright::checks;
using namespace phasewright::plan;

namespace {
enum class Base { iec, nec };
struct Example {
    std::string_view rule;
    Severity severity = Severity::mend;
    std::function<void(TestPlan&)> spoil;
    Base base = Base::iec;
};

ConductorSize mm2(double number) { return {SizeUnit::mm2, number}; }

std::vector<Example> examples_of_points() {
    using enum Severity;
    return {
        {"open.meter", mind, [](TestPlan& t) { t.point(0).meter_profile = "sunspec"; }},
        {"open.choice", mind, [](TestPlan& t) { t.point(0).to_choose.ct = true; }},
        {"open.load", mind, [](TestPlan& t) { t.point(0).usual_a = t.point(0).least_a = std::nullopt; }},
        {"open.tap", mind, [](TestPlan& t) { t.point(0).tap.reset(); }},
        {"open.supply", mind, [](TestPlan& t) { t.point(0).supply.reset(); }},
        {"service.elements", mend,
         [](TestPlan& t) { t.point(1).elements = {{Conductor::a, Conductor::b, Conductor::a}}; }, Base::nec},
        {"service.inputs", mend, [](TestPlan& t) { t.meters.begin()->second.terminals.current.pop_back(); }},
        {"service.setting", mend,
         [](TestPlan& t) { t.meters.begin()->second.services = {Service::three_wire_two_element}; }},
        {"service.derived-current", mend,
         [](TestPlan& t) { t.point(0).service = Service::four_wire_two_ct; }},
        {"service.branches", mind,
         [](TestPlan& t) {
             t.point(0).service = Service::one_phase_two_wire;
             t.point(0).model_options.branches = {{.id = "k1", .phase = Conductor::a, .way = {}},
                                                  {.id = "k2", .phase = Conductor::b, .way = {}}};
         }},
        {"service.high-leg", mend,
         [](TestPlan& t) {
             t.panel(1).ways[1].conductors = {Conductor::b, Conductor::n};
             t.point(2).way = "7";
             t.point(2).service = Service::one_phase_two_wire;
         },
         Base::nec},
        {"service.rotation", mind, [](TestPlan& t) { t.point(1).rotation = Sequence::acb; }},
        {"voltage.most", stop, [](TestPlan& t) { t.panel(0).nominal = {400.0, 690.0, 50.0}; }},
        {"voltage.least", mend, [](TestPlan& t) { t.meter().voltage_inputs->least_ll = 500.0; }},
        {"voltage.transformer-ratio", mend,
         [](TestPlan& t) { t.point(0).vt = quantity::TransformerRatio{690.0, 100.0}; }},
        {"voltage.category", mind, [](TestPlan& t) { t.meter().voltage_inputs->category = "CAT II 300 V"; }},
        {"tap.nothing", stop,
         [](TestPlan& t) { t.point(0).tap = VoltageTap{.protection = TapProtection::nothing}; }},
        {"tap.conductor-current", stop,
         [](TestPlan& t) {
             t.point(0).tap->protection = TapProtection::breaker;
             t.point(0).tap->fuse_a.reset();
         }},
        {"tap.ten-feet", mend,
         [](TestPlan& t) {
             t.point(0).tap->unprotected_m = 3.0;
             t.point(0).breaker_a = 400.0;
         },
         Base::nec},
        {"tap.twenty-five-feet", mend, [](TestPlan& t) { t.point(0).tap->unprotected_m = 7.0; }, Base::nec},
        {"tap.beyond-twenty-five-feet", mend, [](TestPlan& t) { t.point(0).tap->unprotected_m = 8.0; },
         Base::nec},
        {"tap.three-metres", mind, [](TestPlan& t) { t.point(0).tap->unprotected_m = 3.5; }},
        {"tap.fault-energy", mind, [](TestPlan& t) { t.point(0).tap->let_through_a2s = 30'000.0; }},
        {"tap.breaking", stop, [](TestPlan& t) { t.point(0).tap->breaking_ka = 6.0; }},
        {"tap.small", mind, [](TestPlan& t) { t.point(0).tap->fuse_a = 16.0; }},
        {"tap.instrument-circuit", mind, [](TestPlan& t) { t.point(0).tap->fuse_a = 20.0; }, Base::nec},
        {"tap.not-said", mind, [](TestPlan& t) { t.point(0).tap->breaking_ka.reset(); }},
        {"terminal.size", mend, [](TestPlan& t) { t.point(0).lead->size = mm2(6.0); }},
        {"terminal.ferrule", mind, [](TestPlan& t) { t.point(0).tap->strands = Strands::flexible; }},
        {"transformer.shorting", stop, [](TestPlan& t) { t.point(0).ct.shorting = Shorting::none; }},
        {"transformer.shorting-not-said", mind, [](TestPlan& t) { t.point(0).ct.shorting.reset(); }},
        {"transformer.output-not-said", mend, [](TestPlan& t) { t.point(0).ct.output = CtOutput::unknown; }},
        {"transformer.output-kind", stop,
         [](TestPlan& t) {
             t.point(0).ct.output = CtOutput::millivolts;
             t.point(0).ct.ratio = {100.0, 0.333};
         }},
        {"transformer.rated-output", mend,
         [](TestPlan& t) {
             t.meter().current_inputs.push_back({.output = CtOutput::millivolts, .rated = 0.333});
             t.point(0).ct.output = CtOutput::millivolts;
             t.point(0).ct.ratio = {100.0, 1.0};
         }},
        {"transformer.input-most", mend, [](TestPlan& t) { t.point(0).ct.ratio = {20.0, 5.0}; }},
        {"transformer.rating", mend, [](TestPlan& t) { t.point(0).ct.ratio = {60.0, 5.0}; }},
        {"transformer.usual-load", mend,
         [](TestPlan& t) {
             t.point(0).usual_a = 4.9;
             t.point(0).least_a.reset();
         }},
        {"transformer.least-load", mind, [](TestPlan& t) { t.point(0).least_a = 1.6; }},
        {"burden.over", mend, [](TestPlan& t) { t.point(0).lead->length_m = 30.0; }},
        {"burden.under", mind,
         [](TestPlan& t) {
             t.point(0).lead->length_m = 0.5;
             t.point(0).ct.burden_va = 10.0;
         }},
        {"burden.one-phase", mind,
         [](TestPlan& t) {
             t.point(0).lead->length_m = 15.0;
             t.point(0).lead->way_back = Return::common;
         }},
        {"burden.not-said", mind, [](TestPlan& t) { t.point(0).lead.reset(); }},
        {"window.fit", mend,
         [](TestPlan& t) {
             t.point(0).cables_per_phase = 7;
             t.point(0).cable->diameter_mm = 10.0;
         }},
        {"window.coil-lead", mind,
         [](TestPlan& t) {
             t.meter().current_inputs.push_back({.output = CtOutput::coil, .rated = 0.1});
             t.point(0).ct.output = CtOutput::coil;
             t.point(0).ct.ratio = {100.0, 0.1};
             t.point(0).lead->length_m = 12.0;
         }},
        {"panel.way-phases", mend,
         [](TestPlan& t) { t.panel(0).ways[0].conductors = {Conductor::a, Conductor::b, Conductor::n}; }},
        {"panel.way-unknown", mind, [](TestPlan& t) { t.point(0).way = "F9"; }},
        {"panel.breaker", mend, [](TestPlan& t) { t.point(0).breaker_a = 80.0; }},
        {"panel.load", mind, [](TestPlan& t) { t.point(0).most_a = 70.0; }},
        {"colour.phases", mend,
         [](TestPlan& t) { t.point(0).cable->colours = {"red", "yellow", "blue", "black"}; }},
        {"colour.high-leg", mend, [](TestPlan& t) { t.point(2).cable->colours[1] = "red"; }, Base::nec},
    };
}

std::vector<Example> examples_of_the_rest() {
    using enum Severity;
    return {
        {"environment.temperature", mend,
         [](TestPlan& t) { t.panel(0).enclosure->temperature_c = DegreesCelsius{-5.0, 62.0}; }},
        {"environment.humidity", mend, [](TestPlan& t) { t.panel(0).enclosure->humidity_percent = 95.0; }},
        {"environment.condensation", mend, [](TestPlan& t) { t.panel(0).enclosure->condensation = true; }},
        {"environment.top-entry", mend,
         [](TestPlan& t) {
             t.panel(0).enclosure->stands = Whereabouts::outdoor;
             t.panel(0).enclosure->entries = {CableEntry::bottom, CableEntry::top};
         }},
        {"environment.protection", mind,
         [](TestPlan& t) {
             t.panel(0).enclosure->stands = Whereabouts::outdoor;
             t.panel(0).enclosure->protection = "IP31";
         }},
        {"supply.power", mend, [](TestPlan& t) { t.site.supplies[0].available_va = 5.0; }},
        {"supply.margin", mind, [](TestPlan& t) { t.site.supplies[0].available_va = 7.0; }},
        {"supply.not-said", mind, [](TestPlan& t) { t.site.supplies[0].available_va.reset(); }},
        {"supply.inrush", mend, [](TestPlan& t) { t.site.supplies[0].inrush_a = 2.5; }},
        {"supply.voltage", stop, [](TestPlan& t) { t.site.supplies[0].volts = 110.0; }},
        {"supply.drop", mend,
         [](TestPlan& t) {
             t.meter().supply->power_w = 20.0;
             t.point(0).supply->length_m = 200.0;
         }},
        {"supply.polarity", mend, [](TestPlan& t) { t.point(0).supply->polarity = Polarity::crossed; }},
        {"supply.polarity-not-said", mind, [](TestPlan& t) { t.point(0).supply->polarity.reset(); }},
        {"supply.fuse", mend, [](TestPlan& t) { t.site.supplies[0].fuse_a = 6.0; }},
        {"ground-loop.short", stop,
         [](TestPlan& t) {
             t.site.supplies[0].kind = CurrentKind::ac;
             t.point(0).supply->tied_to_bus_common = t.point(1).supply->tied_to_bus_common = true;
             t.point(1).supply->polarity = Polarity::crossed;
         }},
        {"ground-loop.loop", mind,
         [](TestPlan& t) {
             t.point(0).supply->tied_to_bus_common = t.point(1).supply->tied_to_bus_common = true;
         }},
        {"line.format", mend, [](TestPlan& t) { t.site.serial_lines[0].format.bit_rate = 38400; }},
        {"line.character", mind,
         [](TestPlan& t) {
             t.site.serial_lines[0].format = {.bit_rate = 19200, .parity = Parity::none, .stop_bits = 1};
         }},
        {"line.unit-loads", mend, [](TestPlan& t) { t.meter().bus->unit_load = 10.0; }},
        {"line.devices", mend, [](TestPlan& t) { t.meter().bus->most_devices = 2; }},
        {"line.length", mend, [](TestPlan& t) { t.site.serial_lines[0].length_m = 1100.0; }},
        {"line.drop", mend, [](TestPlan& t) { t.point(1).address.drop_m = 25.0; }},
        {"line.terminators", mend,
         [](TestPlan& t) { t.site.serial_lines[0].terminators = std::vector<int>{0, 2, 3}; }},
        {"line.bias", mend, [](TestPlan& t) { t.site.serial_lines[0].bias_at = 9; }},
        {"line.common", mend, [](TestPlan& t) { t.meter().bus_terminals.pop_back(); }},
        {"line.letters", mind, [](TestPlan& t) { t.site.serial_lines[0].labels = PairLabels{"A", "B"}; }},
        {"line.labels", mend, [](TestPlan& t) { t.point(0).address.labels = PairLabels{"A", "B"}; }},
        {"line.not-said", mind, [](TestPlan& t) { t.site.serial_lines[0].terminators.reset(); }},
        {"address.unit", mend, [](TestPlan& t) { t.point(1).address.unit = 1; }},
        {"address.range", mend, [](TestPlan& t) { t.point(1).address.unit = 250; }},
        {"address.position", mend, [](TestPlan& t) { t.point(1).address.position = 1; }},
        {"address.delivered", mind, [](TestPlan& t) { t.meter().bus->delivered_address = 247; }},
        {"address.kind", mend, [](TestPlan& t) { t.point(0).address = {.host = "192.0.2.9", .port = 502}; }},
        {"address.meter-twice", mend, [](TestPlan& t) { t.point(1).meter_serial = "S1"; }},
        {"address.host", mind, [](TestPlan& t) { t.site.gateways = {{"g", "g", "192.0.2.300", 502}}; }},
        {"address.shared-host", mind,
         [](TestPlan& t) {
             t.point(0).address = {.host = "192.0.2.9", .port = 502, .unit = 1};
             t.point(1).address = {.host = "192.0.2.9", .port = 502, .unit = 2};
         }},
        {"panel.pole-map", mind,
         [](TestPlan& t) { t.panel(0).ways[0].conductors = {Conductor::b, Conductor::a, Conductor::c}; },
         Base::nec},
        {"panel.voltages", mend, [](TestPlan& t) { t.panel(0).nominal = {230.0, 415.0, 50.0}; }},
        {"panel.ring", mend, [](TestPlan& t) { t.panel(0).fed_from = "main"; }},
        {"colour.mixture", mind,
         [](TestPlan& t) {
             t.site.region.colour_sets.push_back({.id = "old",
                                                  .title = "old",
                                                  .phases = {"red", "yellow", "blue"},
                                                  .neutral = "black",
                                                  .earth = "green",
                                                  .high_leg = {},
                                                  .source = "invented"});
             t.site.panels.push_back(t.panel(0));
             t.panel(1).id = "annexe";
             t.panel(1).colours = "old";
         }},
        {"colour.names", mind, [](TestPlan& t) { (void)use_names(t.site.region, "r-y-b"); }},
        {"tree.counted-twice", mend, [](TestPlan& t) { t.site.sums[0].plus.push_back("tenant-1"); }},
        {"tree.comparison", mend, [](TestPlan& t) { t.site.sums[0].plus.pop_back(); }},
        {"tree.way-twice", mend, [](TestPlan& t) { t.point(2).way = "F2"; }},
        {"tree.left-out", mind,
         [](TestPlan& t) {
             t.point(2).parent = "";
             t.site.sums[0].plus.pop_back();
         }},
        {"tree.larger-child", mind, [](TestPlan& t) { t.point(1).breaker_a = 80.0; }},
    };
}

std::vector<Example> all_examples() {
    auto all = examples_of_points();
    for (auto& example : examples_of_the_rest()) all.push_back(std::move(example));
    return all;
}

TestPlan base_of(Example const& example) { return example.base == Base::iec ? iec_plan() : nec_plan(); }
}  // namespace

TEST_CASE("the plans that the examples spoil have nothing to stop and nothing to mend") {
    for (auto const& findings : {iec_plan().found(), nec_plan().found()})
        for (auto const& finding : findings)
            CHECK_MESSAGE(finding.severity == Severity::mind, finding.rule << ": " << finding.what);
}

TEST_CASE("every rule fires on its example, and not before the plan was spoiled") {
    for (auto const& example : all_examples()) {
        CAPTURE(example.rule);
        auto test = base_of(example);
        CHECK(of_rule(test.found(), example.rule).empty());
        example.spoil(test);
        auto const found = of_rule(test.found(), example.rule);
        REQUIRE_FALSE(found.empty());
        CHECK(found.front().severity == example.severity);
        CHECK_FALSE(found.front().what.empty());
        CHECK_FALSE(found.front().remedy.empty());
        CHECK_FALSE(found.front().places.empty());
        CHECK_FALSE(found.front().source.standard.empty());
        CHECK((found.front().severity == Severity::stop) == !found.front().caution.empty());
    }
}

TEST_CASE("no rule is without an example, and every name is used once") {
    std::set<std::string_view> shown;
    for (auto const& example : all_examples()) shown.insert(example.rule);
    std::set<std::string_view> names;
    for (auto const& subject : subjects())
        for (auto const& rule : subject.rules) {
            CHECK_MESSAGE(shown.contains(rule.id), rule.id);
            CHECK_MESSAGE(names.insert(rule.id).second, rule.id);
            CHECK_MESSAGE((rule.severity != Severity::stop || !rule.caution.empty()), rule.id);
            CHECK(rule_named(rule.id) == &rule);
        }
    CHECK(names.size() == shown.size());
}

TEST_CASE("no finding and no rule says that something is safe") {
    for (auto const& example : all_examples()) {
        auto test = base_of(example);
        example.spoil(test);
        for (auto const& finding : test.found())
            for (auto const& words : {finding.what, finding.remedy, finding.caution})
                CHECK(words.find("safe") == std::string::npos);
    }
}

TEST_CASE("findings come most severe first") {
    auto test = iec_plan();
    test.point(0).ct.shorting = Shorting::none;
    test.point(1).tap->strands = Strands::flexible;
    test.point(2).lead->length_m = 30.0;
    auto const findings = test.found();
    CHECK(std::ranges::is_sorted(findings, {}, &Finding::severity));
    auto const counts = counted(findings);
    CHECK(counts.stop == 1);
    CHECK(counts.mend == 1);
    CHECK(counts.mind >= 1);
    CHECK(counts.stop + counts.mend + counts.mind == findings.size());
}
