#include "app/commands/reading_lines.hpp"

#include <doctest/doctest.h>

#include <algorithm>

using namespace phasewright;
using commands::read_line;

namespace {
// A line with `more` put in before its last brace.
std::string line_with(std::string const& more, std::string const& service = "3P4W") {
    return R"({"id":"t","service":")" + service + R"(","nominal":{"v_ln":230,"v_ll":400,"hz":50},)" + more +
           "}";
}
std::string const three = R"("snapshots":[{"v":[231,229,232],"i":[41.2,38.7,44.0]}])";
std::string snapshot_with(std::string const& more) {
    return line_with(R"("snapshots":[{"v":[231,229,232],"i":[41.2,38.7,44.0],)" + more + "}]");
}

readings::ReadingSet read(std::string const& line) {
    auto const result = read_line(line);
    INFO(line);
    if (!result) INFO(to_sentence(result.error().fault));
    REQUIRE(result.has_value());
    return result->set;
}
std::string field_of(std::string const& line) {
    auto const result = read_line(line);
    return result ? "" : result.error().fault.where;
}
quantity::Fault fault_of(std::string const& line) {
    auto const result = read_line(line);
    REQUIRE_FALSE(result.has_value());
    return result.error().fault;
}
}  // namespace

TEST_CASE("the smallest set needs an id, a service, the nominal values, volts and amperes") {
    auto const set = read(line_with(three));
    CHECK(set.id == "t");
    CHECK(set.service == plan::Service::four_wire_wye);
    CHECK(set.nominal.v_ll == 400.0);
    CHECK(set.side == quantity::Side::primary);
    REQUIRE(set.snapshots.size() == 1);
    CHECK(set.snapshots[0].i[1] == 38.7);
    CHECK(set.fields_given.empty());
}

TEST_CASE("every field of the contract finds its place") {
    auto const set = read(line_with(
        R"("contract":1,"meter_service":"3P3W","side":"secondary","ct_planned":[200,5],"ct_programmed":[[200,5],[100,5],[200,5]],)"
        R"("vt_planned":[400,100],"vt_programmed":null,"ct_output":"5A","meter_input":"1A","ct_class":"0.5","starting_current":0.02,)"
        R"("load_kind":"motor","flow":"import","positive":"to_grid","breaker":63,"rotation":"acb","high_leg":"b","earthed":"b",)"
        R"("prior":"in_service","pf_sign":"ieee","var_sign":"unsigned","resolution":{"v":0.1,"i":0.01,"p":1,"q":1},"skew_s":0.3,)"
        R"("voltage_terminals":["U1","U2","U3","U0"],"elements":[{"v":["U1","U0"],"ct":"CT1"},{"v":["U2","U0"],"ct":"CT2"},{"v":["U3","U0"],"ct":null}],)"
        R"("snapshots":[{"v":[231,229,232],"i":[41.2,38.7,44.0],"p":[1,2,3],"q":[4,null,6],"s":[7,8,9],"pf":[0.9,-0.9,1],)"
        R"("v_ll":[400,401,402],"v_angle":[0,-120,120],"i_angle":[-23,-143,97],"i_n":1.5,"hz":50.02,"p_total":6,"q_total":15,)"
        R"("s_total":24,"pf_total":0.92,"sequence":"abc","time":"2026-05-20T10:00:00+02:00","generation_running":false,)"
        R"("thd_i":0.12,"load_kind":"resistive"},{"v":[1,2,3],"i":[4,5,6]}],)"
        R"("step":{"conductor":"b","to":"n","watts":2000,"rated_v":230,"before":0,"after":1},)"
        R"("steps":[{"conductors":["a","b","c"],"watts":9000,"before":1,"after":0}],)"
        R"("tests":[{"kind":"clamp_primary","at":{"ct":"CT2"},"value":38.6,"unit":"A","u":0.4,"before":1,"during":2,"time":"2026-05-20T10:20:00+02:00"},)"
        R"({"kind":"rotation_at_source","value":"acb"},{"kind":"lead_traced","at":{"terminal":"U2"},"value":true}])"));
    CHECK(set.side == quantity::Side::secondary);
    CHECK(set.meter_service == plan::Service::three_wire_three_ct);
    CHECK(set.ct_programmed.at(1) == quantity::TransformerRatio{100.0, 5.0});
    CHECK(set.vt_planned.size() == 1);
    CHECK(set.vt_programmed.empty());
    CHECK(set.meter_input == plan::CtOutput::one_ampere);
    CHECK(set.load_kind.whole == plan::LoadKind::motor);
    CHECK(set.positive_to_grid);
    CHECK(set.prior == readings::Prior::in_service);
    CHECK(set.pf_sign == readings::SignHabit::ieee);
    CHECK(set.var_sign == readings::SignHabit::unsigned_);
    CHECK(set.resolution.i == 0.01);
    REQUIRE(set.own_model);
    CHECK(set.own_model->elements.at(2).current_input == plan::derived_current);
    CHECK(set.terminals.voltage.at(1) == "U2");
    CHECK(set.terminals.neutral == "U0");
    auto const& snapshot = set.snapshots.at(0);
    CHECK_FALSE(snapshot.q.at(1));
    CHECK(snapshot.thd_i.size() == 3);
    CHECK(snapshot.generation_running == false);
    CHECK(snapshot.load_kind.whole == plan::LoadKind::resistive);
    CHECK(set.steps.size() == 2);
    CHECK(set.steps.at(1).conductors.size() == 3);
    CHECK(set.tests.at(0).at == "CT2");
    CHECK(set.tests.at(1).word == "acb");
    CHECK(set.tests.at(2).word == "yes");
    for (auto const* const name : {"breaker", "steps", "tests", "snapshots.thd_i", "resolution", "elements"})
        CHECK(std::ranges::count(set.fields_given, name) == 1);
}

TEST_CASE("two numbers may stand for the planned ratio, and the secondary follows from a current output") {
    CHECK(read(line_with(R"("ct_primary":200,"ct_secondary":5,)" + three)).ct_planned.at(0).factor() == 40.0);
    CHECK(read(line_with(R"("ct_primary":200,"ct_output":"1A",)" + three)).ct_planned.at(0).factor() ==
          200.0);
    CHECK(read(line_with(R"("ct_primary":200,)" + three)).ct_planned.at(0).primary == 200.0);
    CHECK(read(line_with(R"("ct_primary":200,"ct_programmed":[200,1],)" + three)).ct_planned.at(0).secondary == 1.0);
    CHECK(read(line_with(R"("ct_primary":200,"side":"secondary",)" + three)).ct_planned.empty());
    CHECK(field_of(line_with(R"("ct_primary":200,"ct_planned":[200,5],)" + three)) == "ct_primary");
    CHECK(field_of(line_with(R"("ct_planned":[200],)" + three)) == "ct_planned");
    CHECK(field_of(line_with(R"("ct_planned":[200,0],)" + three)) == "ct_planned");
}

TEST_CASE("each service has its own number of elements and line voltages") {
    struct Row {
        std::string service;
        std::size_t elements, lines;
    };
    for (auto const& row : {Row{"1P2W", 1, 0}, Row{"1P3W", 2, 1}, Row{"2P3W", 2, 1}, Row{"3P4W", 3, 3},
                            Row{"3P4W-2CT", 3, 3}, Row{"3P3W", 3, 3}, Row{"3P3W-2CT", 3, 3},
                            Row{"3P3W-2E", 2, 3}, Row{"3P3W-CE", 2, 3}, Row{"3P4W-HL", 3, 3}}) {
        auto const list = [](std::size_t count) {
            std::string text = "[";
            for (std::size_t k = 0; k < count; ++k) text += k == 0 ? "230" : ",230";
            return text + "]";
        };
        auto const with = [&](std::size_t v, std::size_t v_ll) {
            return field_of(line_with(R"("snapshots":[{"v":)" + list(v) + R"(,"i":)" + list(row.elements) +
                                          R"(,"v_ll":)" + list(v_ll) + "}]",
                                      row.service));
        };
        CAPTURE(row.service);
        CHECK(with(row.elements, row.lines) == "");
        CHECK(with(row.elements + 1, row.lines) == "snapshots[0].v");
        CHECK(with(row.elements, row.lines + 1) == "snapshots[0].v_ll");
    }
}

TEST_CASE("branches are elements of a one-phase service and of no other") {
    std::string const two = R"("branches":[{"id":"k1","phase":"a"},{"id":"k2","phase":"b"}],)";
    CHECK(read(line_with(two + R"("snapshots":[{"v":[230,230],"i":[1,2]}])", "1P2W"))
              .model_options.branches.size() == 2);
    CHECK(field_of(line_with(two + three)) == "branches");
    CHECK(field_of(line_with(R"("branches":[{"id":"k1","phase":"n"}],)" + three, "1P2W")) ==
          "branches[0].phase");
}

TEST_CASE("a two-element set may name its outer CT by its conductor") {
    auto const set = read(line_with(
        R"("elements":[{"v":["V1","V2"],"ct":"CT1"},{"v":["V3","V2"],"ct":"CT3"}],"snapshots":[{"v":[400,400],"i":[1,2]}])",
        "3P3W-2E"));
    REQUIRE(set.own_model);
    CHECK(set.own_model->current_inputs == std::vector{plan::Conductor::a, plan::Conductor::c});
    CHECK(set.own_model->elements.at(1).minus == 1);
}

TEST_CASE("elements that do not exist are refused") {
    auto const with = [](std::string const& elements) {
        return field_of(line_with(R"("elements":)" + elements + R"(,"snapshots":[{"v":[230],"i":[1]}])"));
    };
    CHECK(with(R"([{"v":["V1","N"],"ct":"CT1"}])") == "");
    CHECK(with(R"([{"v":["V9","N"],"ct":"CT1"}])") == "elements[0].v");
    CHECK(with(R"([{"v":["V1","V1"],"ct":"CT1"}])") == "elements[0].v");
    CHECK(with(R"([{"v":["N","V1"],"ct":"CT1"}])") == "elements[0].v");
    CHECK(with(R"([{"v":["V1","N"],"ct":"CT7"}])") == "elements");
    CHECK(with(R"([{"v":["V1","N"],"ct":"coil"}])") == "elements[0].ct");
    CHECK(with(R"([{"v":["V1","N"],"ct":null}])") == "elements");
    CHECK(with(R"([])") == "elements");
    CHECK(with(R"([{"ct":"CT1"}])") == "elements[0].v");
    CHECK(with(R"([3])") == "elements[0]");
}

TEST_CASE("what is not JSON says where") {
    CHECK(fault_of("{").what == "the line is not JSON");
    CHECK(fault_of("watts 3").what == "the line is not JSON");
    CHECK(fault_of(line_with(three) + "}").what == "the line is not JSON");
    CHECK(fault_of("[1,2]").what == "this is not an object");
    CHECK(fault_of("\xff\xfe").what == "the line is not JSON");
}

TEST_CASE("NaN and infinities are no numbers, and the message names the field") {
    for (auto const* const word : {"NaN", "nan", "-NaN", "Infinity", "-Infinity", "inf"}) {
        auto const fault =
            fault_of(line_with(R"("snapshots":[{"i":[1,2,3],"v":[231,)" + std::string{word} + ",232]}]"));
        CAPTURE(word);
        CHECK(fault.what == "this is not a number");
        CHECK(fault.where == "v");
    }
    CHECK(fault_of(snapshot_with(R"("p":[1,1e999,2])")).where == "p");
    CHECK(field_of(snapshot_with(R"("p":[1,"2",3])")) == "snapshots[0].p[1]");
    CHECK(field_of(snapshot_with(R"("hz":"50")")) == "snapshots[0].hz");
    CHECK(field_of(snapshot_with(R"("p":[1,true,3])")) == "snapshots[0].p[1]");
}

TEST_CASE("an unknown field is refused at every level with the nearest known one") {
    CHECK(fault_of(line_with(R"("snapshot":[],)" + three)).remedy.find("\"snapshots\"") != std::string::npos);
    CHECK(field_of(snapshot_with(R"("p_totl":3)")) == "snapshots[0].p_totl");
    CHECK(field_of(line_with(R"("resolution":{"w":1},)" + three)) == "resolution.w");
    CHECK(field_of(line_with(R"("step":{"conductor":"b","watts":1,"volts":3},)" + three)) == "step.volts");
    CHECK(field_of(line_with(R"("tests":[{"kind":"bill_pf","val":1}],)" + three)) == "tests[0].val");
    CHECK(field_of(line_with(R"("tests":[{"kind":"bill_pf","at":{"cable":"x"}}],)" + three)) ==
          "tests[0].at.cable");
}

TEST_CASE("names that begin with x_ are ignored everywhere and carried from the top") {
    auto const result =
        read_line(line_with(R"("x_job":{"n":1},"snapshots":[{"v":[1,2,3],"i":[1,2,3],"x_note":"n"}])"));
    REQUIRE(result.has_value());
    CHECK(result->carried == R"({"x_job":{"n":1}})");
}

TEST_CASE("missing and doubled fields are named") {
    CHECK(field_of(R"({"service":"3P4W"})") == "id");
    CHECK(field_of(R"({"id":"t","nominal":{}})") == "service");
    CHECK(field_of(R"({"id":"t","service":"3P4W"})") == "nominal");
    CHECK(field_of(R"({"id":"t","service":"3P4W","nominal":{"v_ln":230,"hz":50}})") == "nominal.v_ll");
    CHECK(field_of(line_with(R"("prior":"in_service")")) == "snapshots");
    CHECK(field_of(line_with(R"("snapshots":[])")) == "snapshots");
    CHECK(field_of(line_with(R"("snapshots":[{"v":[1,2,3]}])")) == "snapshots[0].i");
    CHECK(field_of(line_with(R"("id":"u",)" + three)) == "id");
    CHECK(field_of(snapshot_with(R"("v":[1,2,3])")) == "v");
}

TEST_CASE("the id is known even when a later part of the line is broken") {
    auto const result = read_line(line_with(R"("snapshots":[{"v":[1,)"));
    REQUIRE_FALSE(result.has_value());
    CHECK(result.error().id == "t");
}

TEST_CASE("words and ranges that cannot be are refused") {
    CHECK(field_of(line_with(three, "3P5W")) == "service");
    CHECK(field_of(line_with(R"("flow":"inward",)" + three)) == "flow");
    CHECK(field_of(line_with(R"("contract":2,)" + three)) == "contract");
    CHECK(field_of(line_with(R"("load_kind":{"three_phase":"motor"},)" + three)) == "load_kind");
    CHECK(field_of(snapshot_with(R"("pf":[92,92,92])")) == "snapshots[0].pf[0]");
    CHECK(field_of(snapshot_with(R"("time":"yesterday")")) == "snapshots[0].time");
    CHECK(field_of(line_with(R"("snapshots":[{"v":[231,-229,232],"i":[1,2,3]}])")) == "snapshots[0].v[1]");
    CHECK(field_of(line_with(R"("step":{"conductor":"b","watts":2000},)" + three)) == "step.after");
    CHECK(field_of(line_with(R"("step":{"watts":2000},)" + three)) == "step.conductor");
    CHECK(field_of(line_with(R"("tests":[{"kind":"guess"}],)" + three)) == "tests[0].kind");
}

TEST_CASE("a high-leg service may tell its two loads apart") {
    auto const set =
        read(line_with(R"("load_kind":{"three_phase":"motor","legs":"electronic"},)" + three, "3P4W-HL"));
    CHECK(set.load_kind.three_phase == plan::LoadKind::motor);
    CHECK(set.load_kind.legs == plan::LoadKind::electronic);
}
