// The figures that findings print, against published tables and against arithmetic that stands beside each
// check.
#include <doctest/doctest.h>

#include <cmath>

#include "core/checks/ampacity.hpp"
#include "core/checks/plan_in_tests.hpp"

using namespace phasewright;
using namespace phasewright::checks;
using namespace phasewright::plan;

namespace {
Finding only(TestPlan const& test, std::string_view rule) {
    auto const found = of_rule(test.found(), rule);
    REQUIRE_MESSAGE(found.size() == 1, std::string(rule) << ": " << found.size());
    return found.front();
}
bool says(Finding const& finding, std::string_view words) {
    return finding.what.find(words) != std::string::npos;
}
doctest::Approx within(double value, double of) { return doctest::Approx(value).epsilon(of / value); }
}  // namespace

TEST_CASE("one element between two phases of a wye registers 75 % of equal loads to the neutral") {
    // Re(U12 conj(I1)) = sqrt(3) cos 30 = 1.5 of one phase's power, of two: 75 % (Blondel 1893: 3 wires need
    // 2 elements).
    auto test = nec_plan();
    test.point(1).elements = {{Conductor::a, Conductor::b, Conductor::a}};
    auto const finding = only(test, "service.elements");
    CHECK(finding.value.value() == within(75.0, 1e-9));
    CHECK(says(finding, "75 % of equal loads to the neutral"));
    CHECK(says(finding, "150 % on A, 0 % on B"));
    CHECK(says(finding, "3 wires, which need 2"));
}

TEST_CASE("two elements on their own phases are what a three-wire network service needs") {
    auto test = nec_plan();
    test.point(1).elements = {{Conductor::a, Conductor::n, Conductor::a},
                              {Conductor::b, Conductor::n, Conductor::b}};
    CHECK(of_rule(test.found(), "service.elements").empty());
}

TEST_CASE("one element across split phase is right for equal loads and wrong for a load on one leg") {
    // 1 CT and 240 V: right only where U1N = -U2N and both legs carry the same. Re(U12 conj(I1)) = 2 of 2;
    // alone 2 of 1, 0.
    auto test = nec_plan();
    test.panel(0).nominal = {120.0, 240.0, 60.0};
    test.panel(0).service = Service::split_phase_three_wire;
    test.panel(0).ways[1].conductors = {Conductor::a, Conductor::b, Conductor::n};
    test.point(1).service = Service::split_phase_three_wire;
    test.point(1).elements = {{Conductor::a, Conductor::b, Conductor::a}};
    auto const finding = only(test, "service.elements");
    CHECK(finding.value.value() == within(100.0, 1e-9));
    CHECK(says(finding, "200 % on A, 0 % on B"));
}

TEST_CASE("an element that pairs one phase's voltage with another's current is told by what it registers") {
    // cos 120 = -1/2 on both of the exchanged phases, 1 on the third: 0 of 3.
    auto test = iec_plan();
    using enum Conductor;
    test.point(0).elements = {{a, n, b}, {b, n, a}, {c, n, c}};
    CHECK(only(test, "service.elements").value.value() == doctest::Approx(0.0));
}

TEST_CASE("a circuit whose neutral has no element is told by counting wires") {
    auto test = iec_plan();
    test.point(0).service = Service::three_wire_two_element;
    auto const finding = only(test, "service.elements");
    CHECK(finding.value.value() == 2.0);
    CHECK(finding.limit.value() == 3.0);
}

TEST_CASE("the high leg stands at 207.8 V to the neutral") {
    // 240 sqrt(3)/2 = 207.8 V
    auto test = nec_plan();
    test.panel(1).ways[1].conductors = {Conductor::b, Conductor::n};
    test.point(2).way = "7";
    test.point(2).service = Service::one_phase_two_wire;
    CHECK(only(test, "service.high-leg").value.value() == within(207.846, 1e-3));
}

TEST_CASE("inputs for 300 V bear 277/480 V and not a high leg of 480 V or a corner-earthed 480 V") {
    auto test = nec_plan();
    test.panel(0).nominal = {277.0, 480.0, 60.0};
    test.panel(1).nominal = {120.0, 240.0, 60.0};
    CHECK(of_rule(test.found(), "voltage.most").empty());
    test.panel(1).nominal = {240.0, 480.0, 60.0};  // high leg 480 sqrt(3)/2 = 415.7 V
    CHECK(only(test, "voltage.most").value.value() == within(415.692, 1e-3));
    test.point(2).service = Service::corner_earthed_delta;
    CHECK(only(test, "voltage.most").value.value() == within(480.0, 1e-9));
}

TEST_CASE("voltage transformers bring a 690 V system down to what the inputs bear") {
    auto test = iec_plan();
    test.panel(0).nominal = {400.0, 690.0, 50.0};
    auto const without = of_rule(test.found(), "voltage.most");
    CHECK(without.size() == 3);
    CHECK(without.front().value.value() == 690.0);
    CHECK(without.front().limit.value() == 520.0);
    for (auto& point : test.site.points) point.vt = quantity::TransformerRatio{690.0, 100.0};
    CHECK(of_rule(test.found(), "voltage.most").empty());
    CHECK(of_rule(test.found(), "voltage.transformer-ratio").empty());
}

TEST_CASE("a 63 A breaker before 1.5 mm2 passes thirteen times the heat of the table's current") {
    // IEC 60364-5-52, Table B.52.2, method B1: 17.5 A (from memory); (63 / 17.5)^2 = 12.96. Twice the table's
    // current and more waits for no edition.
    auto test = iec_plan();
    test.point(0).tap->protection = TapProtection::breaker;
    test.point(0).tap->fuse_a.reset();
    test.point(0).breaker_a = 63.0;
    auto const finding = only(test, "tap.conductor-current");
    CHECK(finding.severity == Severity::stop);
    CHECK(finding.value.value() == 63.0);
    CHECK(finding.limit.value() == 17.5);
    CHECK(says(finding, "12.96 times that heat"));
    CHECK_FALSE(finding.caution.empty());
}

TEST_CASE("within twice the table's current a limit from memory makes a mind until it is confirmed") {
    auto test = iec_plan();
    test.point(0).tap->fuse_a = 25.0;
    auto finding = only(test, "tap.conductor-current");
    CHECK(finding.severity == Severity::mind);
    CHECK(says(finding, "check the edition in force"));
    test.limits.of_rule["tap.conductor-current"] = {
        .value = {}, .standard = {}, .edition = "2009", .clause = {}, .confirmed = true};
    finding = only(test, "tap.conductor-current");
    CHECK(finding.severity == Severity::mend);
    CHECK(finding.source.edition == "2009");
    CHECK_FALSE(says(finding, "check the edition"));
}

TEST_CASE("the table of what conductors carry can be replaced") {
    auto test = iec_plan();
    test.point(0).tap->fuse_a = 25.0;
    test.limits.metric = {{{SizeUnit::mm2, 1.5}, 14.0}};
    auto const finding = only(test, "tap.conductor-current");
    CHECK(finding.limit.value() == 14.0);
    CHECK(finding.severity == Severity::mend);
    CHECK(finding.source.standard == "the user's table");
}

TEST_CASE("what copper carries by the NEC is the 75 degree column of its Table 310.16") {
    // 2023, two reprints agree: 14 AWG 20, 12 AWG 25, 10 AWG 35, 4/0 230, 500 kcmil 380 A.
    struct Row {
        ConductorSize size;
        double amperes;
    };
    for (auto const& [size, amperes] :
         {Row{{SizeUnit::awg, 14}, 20}, Row{{SizeUnit::awg, 12}, 25}, Row{{SizeUnit::awg, 10}, 35},
          Row{{SizeUnit::awg, -3}, 230}, Row{{SizeUnit::kcmil, 500}, 380}})
        CHECK(carried_by(size, Metal::copper, {})->amperes == amperes);
    CHECK_FALSE(carried_by({SizeUnit::awg, 18}, Metal::copper, {}).has_value());
    CHECK_FALSE(carried_by({SizeUnit::awg, 12}, Metal::aluminium, {}).has_value());
}

TEST_CASE(
    "a tap of 14, 12 or 10 AWG may leave a feeder of 200, 250 or 350 A by the ten-foot rule, and no larger "
    "one") {
    // NEC 240.21(B)(1): a tenth of the device in front; with 310.16 at 75 degrees C: 20, 25, 35 A.
    struct Row {
        double gauge, feeder;
    };
    for (auto const& [gauge, feeder] : {Row{14, 200}, Row{12, 250}, Row{10, 350}}) {
        auto test = nec_plan();
        test.point(0).tap->size = ConductorSize{SizeUnit::awg, gauge};
        test.point(0).tap->unprotected_m = 3.0;
        test.point(0).breaker_a = feeder;
        CHECK(of_rule(test.found(), "tap.ten-feet").empty());
        test.point(0).breaker_a = feeder + 10.0;
        auto const finding = only(test, "tap.ten-feet");
        CHECK(finding.limit.value() == within((feeder + 10.0) / 10.0, 1e-9));
        CHECK(finding.severity == Severity::mend);
    }
}

TEST_CASE("1.5 mm2 in PVC bears 29 756 A2s, 2.5 mm2 82 656 A2s") {
    // k2 S2 with k = 115: 13 225 * 2.25 and * 6.25 (IEC 60364-4-43, 434.5.2; k from memory).
    for (auto const& [size, bears] : {std::pair{1.5, 29756.25}, std::pair{2.5, 82656.25}}) {
        auto test = iec_plan();
        test.point(0).tap->size = ConductorSize{SizeUnit::mm2, size};
        test.point(0).tap->let_through_a2s = bears;
        CHECK(of_rule(test.found(), "tap.fault-energy").empty());
        test.point(0).tap->let_through_a2s = bears + 1.0;
        auto const finding = only(test, "tap.fault-energy");
        CHECK(finding.limit.value() == within(bears, 1e-6));
        CHECK(finding.severity == Severity::mind);  // k is from memory
    }
}

TEST_CASE("energy that melts copper stops whatever any edition says") {
    // 226^2 ln((234.5 + 1083) / (234.5 + 30)) = 82 011 A2s/mm4 from 30 degrees C to the melting point.
    double const per_mm4 = 226.0 * 226.0 * std::log((234.5 + 1083.0) / (234.5 + 30.0));
    CHECK(per_mm4 == within(82000.0, 50.0));
    auto test = iec_plan();
    test.point(0).tap->let_through_a2s = 1.01 * per_mm4 * 2.25;
    auto const finding = only(test, "tap.fault-energy");
    CHECK(finding.severity == Severity::stop);
    CHECK(says(finding, "the copper melts"));
}

TEST_CASE("the energy that is asked for is named when the plan does not say it") {
    auto test = iec_plan();
    test.point(0).tap->let_through_a2s.reset();
    CHECK(says(only(test, "tap.not-said"), "for k 115 at most 29756 A2s on 1.5 mm2"));
}

TEST_CASE("30 m of 2.5 mm2 put 11.4 VA on a transformer of 5 VA before the meter is counted") {
    // IEC 60228:2004: 7.41 ohm/km; 25 * 2 * 0.030 * 7.41 = 11.115 VA, contacts 0.01 ohm 0.25 VA, meter 0.5
    // VA.
    auto test = iec_plan();
    test.point(0).lead->length_m = 30.0;
    auto const finding = only(test, "burden.over");
    CHECK(finding.value.value() == within(11.865, 1e-9));
    CHECK(finding.limit.value() == 5.0);
    CHECK(says(finding, "leads 11.12"));
    CHECK(finding.remedy.find("11.47 m") != std::string::npos);  // (5 - 0.75) / (25 * 2 * 7.41e-3)
}

TEST_CASE("the same lead on a 1 A transformer is a twenty-fifth") {
    auto test = iec_plan();
    test.point(0).lead->length_m = 30.0;
    test.point(0).ct.output = CtOutput::one_ampere;
    test.point(0).ct.ratio = {100.0, 1.0};
    CHECK(of_rule(test.found(), "burden.over").empty());
}

TEST_CASE("three kinds of wrong output: blocked, blocked, and wrong figures only") {
    auto test = iec_plan();
    test.point(0).ct.output = CtOutput::millivolts;  // 333 mV into 5 A
    test.point(0).ct.ratio = {200.0, 0.333};
    auto finding = only(test, "transformer.output-kind");
    CHECK(finding.severity == Severity::stop);
    CHECK(says(finding, "200 A : 333 mV"));
    CHECK(says(finding, "damage possible: blocked"));
    CHECK(finding.value.value() == 0.333);
    CHECK_FALSE(finding.limit.has_value());

    test = iec_plan();  // 5 A into 333 mV
    test.meter().current_inputs = {{.output = CtOutput::millivolts, .rated = 0.333}};
    for (auto const& each : of_rule(test.found(), "transformer.output-kind"))
        CHECK(each.severity == Severity::stop);

    test.point(0).ct.output = CtOutput::coil;  // a coil into 333 mV: watts become vars
    test.point(0).ct.ratio = {200.0, 0.1};
    auto const both = of_rule(test.found(), "transformer.output-kind");
    CHECK(both.size() == 3);
    CHECK(both.back().severity == Severity::mend);
}

TEST_CASE("a class without S is unproven below 5 %, one with S below 1 %") {
    // IEC 61869-2:2012, 5.6.201, Tables 201 and 202.
    auto test = iec_plan();
    test.point(0).least_a = 1.6;
    auto finding = only(test, "transformer.least-load");
    CHECK(finding.value.value() == within(1.6, 1e-9));
    CHECK(finding.limit.value() == 5.0);
    CHECK(says(finding, "unproven below 5 % (5 A)"));
    test.point(0).ct.accuracy_class = "0.5S";
    CHECK(of_rule(test.found(), "transformer.least-load").empty());
    test.point(0).least_a = 0.9;
    CHECK(only(test, "transformer.least-load").limit.value() == 1.0);
}

TEST_CASE("seven cables need three of their diameters, and five per cent more") {
    // Smallest circle round seven equal ones: 3 diameters.
    auto test = iec_plan();
    test.point(0).cables_per_phase = 7;
    test.point(0).cable->diameter_mm = 9.5;
    CHECK(28.5 * 1.05 < 30.0);
    CHECK(of_rule(test.found(), "window.fit").empty());
    test.point(0).cable->diameter_mm = 9.6;
    CHECK(only(test, "window.fit").value.value() == within(28.8, 1e-6));
}

TEST_CASE("the meters' watts are added up, and the margin comes on top") {
    auto test = iec_plan();
    test.site.supplies[0].available_va = 5.0;
    auto const over = only(test, "supply.power");
    CHECK(over.value.value() == within(6.0, 1e-12));
    CHECK(over.limit.value() == 5.0);
    CHECK(over.unit == "W");
    test.site.supplies[0].available_va = 7.0;
    CHECK(only(test, "supply.margin").value.value() == within(7.5, 1e-12));
    test.limits.of_rule["supply.margin"].value = 10.0;
    CHECK(of_rule(test.found(), "supply.margin").empty());
    test.site.supplies[0].kind = CurrentKind::ac;  // VA count on ac: 3 * 3
    CHECK(only(test, "supply.power").value.value() == within(9.0, 1e-12));
}

TEST_CASE("200 m of 1.5 mm2 take 4.03 V from 24 V at 20 W, and leave the meter too little") {
    // IEC 60228:2004: 12.1 ohm/km; 2 * 0.2 * 12.1 = 4.84 ohm; 20 / 24 = 0.8333 A; 4.033 V; 19.97 V are left,
    // 20 V needed.
    auto test = iec_plan();
    test.meter().supply->power_w = 20.0;
    test.point(0).supply->length_m = 200.0;
    auto const found = of_rule(test.found(), "supply.drop");
    REQUIRE_FALSE(found.empty());
    CHECK(found.front().value.value() == within(24.0 - 4.0 * 121.0 / 120.0, 1e-9));
    CHECK(found.front().limit.value() == 20.0);
    CHECK(found.front().severity == Severity::mend);
}

TEST_CASE("a line has its unit loads from the head, the meters and the bias") {
    // TIA-485: 32; MODBUS over Serial Line V1.02: polarization costs 4. 1 + 3 * 10 + 4 = 35.
    auto test = iec_plan();
    test.meter().bus->unit_load = 10.0;
    CHECK(only(test, "line.unit-loads").value.value() == within(35.0, 1e-12));
    test.site.serial_lines[0].bias_at.reset();
    CHECK(of_rule(test.found(), "line.unit-loads").empty());  // 31
}

TEST_CASE("terminators within the line and missing ones are told apart") {
    auto test = iec_plan();
    test.site.serial_lines[0].terminators = std::vector<int>{0, 2, 3};
    CHECK(says(only(test, "line.terminators"),
               "3 terminators: one at position 2 (tenant-2) stands within the line"));
    test.site.serial_lines[0].terminators = std::vector<int>{0};
    CHECK(says(only(test, "line.terminators"), "none at the far end, position 3 (tenant-3)"));
}

TEST_CASE("letters of the pair are a trap where one device prints them the other way round") {
    auto test = iec_plan();
    test.point(1).address.labels = PairLabels{"A", "B"};
    auto const trap = only(test, "line.letters");
    CHECK(says(trap, "\"A\" at tenant-2 and \"B\" at the head, tenant-1, tenant-3"));
    CHECK(trap.remedy.find("measured polarity, not by letter") != std::string::npos);
}

TEST_CASE("poles are counted as the trade counts them") {
    // Common practice, no source: 21 is B, 24 C, 37 A, 42 C; a three-pole breaker at 3 is B-C-A.
    auto test = nec_plan();
    test.panel(0).ways = {{"21", {Conductor::b}, {}, {}},
                          {"24", {Conductor::c}, {}, {}},
                          {"37", {Conductor::a}, {}, {}},
                          {"42", {Conductor::c}, {}, {}},
                          {"3", {Conductor::b, Conductor::c, Conductor::a}, {}, {}}};
    CHECK(of_rule(test.found(), "panel.pole-map").empty());
    test.panel(0).ways[0].conductors = {Conductor::c};
    CHECK(says(only(test, "panel.pole-map"), "way 21 is C by the map and B by counting"));
}

TEST_CASE("old colours are recognised as those of the other set") {
    auto test = iec_plan();
    test.site.region = *region_of("north-america");
    test.panel(0).nominal = {277.0, 480.0, 60.0};
    test.point(0).cable->colours = {"black", "red", "blue", "white"};
    auto const found = of_rule(test.found(), "colour.phases");
    REQUIRE_FALSE(found.empty());
    CHECK(says(found.front(), "A is black and not brown"));
    CHECK(says(found.front(), "they are those of United States, 120/208 V"));
}

TEST_CASE("a load is counted once by its own meter and once by the meter above it") {
    auto test = iec_plan();
    test.site.sums[0].plus = {"tenant-1", "tenant-2"};
    test.site.sums[0].compared_with = "";
    auto const finding = only(test, "tree.counted-twice");
    CHECK(finding.value.value() == 2.0);
    CHECK(says(finding, "counted 2 times in tenants: once by its own meter, and by tenant-1 above it"));
    test.site.sums[0].minus = {"tenant-2"};
    test.site.sums[0].plus = {"tenant-1"};
    CHECK(of_rule(test.found(), "tree.counted-twice").empty());
}

TEST_CASE("sums of sums are followed") {
    auto test = iec_plan();
    test.site.sums = {{.id = "s1", .name = {}, .plus = {"tenant-2"}, .minus = {}, .compared_with = {}},
                      {.id = "s2", .name = {}, .plus = {"s1", "tenant-2"}, .minus = {}, .compared_with = {}}};
    CHECK(only(test, "tree.counted-twice").value.value() == 2.0);
}

TEST_CASE("what the main meter sees and its sum leaves out is named") {
    auto test = iec_plan();
    test.site.sums[0].plus.pop_back();
    CHECK(says(only(test, "tree.comparison"), "leaves out what that one also sees: tenant-3"));
}
