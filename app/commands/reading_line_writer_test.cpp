// What is written is read back as the same, and judged the same.
#include "app/commands/reading_line_writer.hpp"

#include <doctest/doctest.h>

#include <array>

#include "app/commands/reading_lines.hpp"
#include "core/diagnosis/diagnose.hpp"

using namespace phasewright;

namespace {
constexpr std::array lines{
    // Every field that a plan, a meter and a technician can fill.
    R"({"contract":1,"id":"t","service":"3P4W","meter_service":"3P3W-2E","nominal":{"v_ln":230.0,"v_ll":400.0,"hz":50.0},)"
    R"("ct_planned":[100.0,5.0],"ct_programmed":[[200.0,5.0],[100.0,5.0],[100.0,5.0]],"vt_planned":[11000.0,110.0],)"
    R"("ct_output":"5A","meter_input":"1A","ct_class":"0.5S","starting_current":0.1,"load_kind":"motor","flow":"both",)"
    R"("positive":"to_grid","breaker":63.0,"rotation":"acb","prior":"in_service","pf_sign":"ieee","var_sign":"unsigned",)"
    R"("resolution":{"v":0.1,"q":10.0},"skew_s":0.2,"snapshots":[{"v":[231.0,229.5,null],"i":[41.2,38.7,44.0],)"
    R"("p":[8756.0,null,9391.0],"q":[3730.0,3473.0,4001.0],"s":[9517.0,8862.0,10208.0],"pf":[0.92,0.92,0.92],)"
    R"("v_ll":[400.1,399.2,400.0],"v_angle":[0.0,-120.0,120.0],"i_angle":[-23.0,-143.0,97.0],"thd_i":[0.1,0.1,0.1],)"
    R"("i_n":3.5,"hz":50.01,"p_total":26300.0,"q_total":11204.0,"s_total":28587.0,"pf_total":0.92,"sequence":"abc",)"
    R"("time":"2026-05-20T10:00:00+02:00","generation_running":true,"load_kind":"mixed"},{"v":[231.0,229.0,232.0],)"
    R"("i":[50.0,38.7,44.0]}],"steps":[{"conductors":["a","b"],"to":"n","watts":2000.0,"rated_v":230.0,"before":0,"after":1}],)"
    R"("tests":[{"kind":"clamp_primary","at":{"ct":"CT2"},"value":38.6,"unit":"A","u":0.4,"time":"2026-05-20T10:20:00+02:00"},)"
    R"({"kind":"ct_shorted","at":{"ct":"CT1"},"before":41.2,"during":0.0},{"kind":"cables_in_window","at":{"ct":"CT1"},)"
    R"("value":1.0,"of":2.0},{"kind":"load_switched","at":{"conductor":"a"},"value":2000.0,"unit":"W",)"
    R"("before":[0.0,0.0,0.0],"during":[2000.0,0.0,0.0]},{"kind":"rotation_at_source","value":"acb"}]})",
    R"({"contract":1,"id":"hl","x_name":"Shop","service":"3P4W-HL","nominal":{"v_ln":120.0,"v_ll":240.0,"hz":60.0},)"
    R"("load_kind":{"three_phase":"motor","legs":"mixed"},"high_leg":"c","prior":"commissioning","pf_sign":"unknown",)"
    R"("var_sign":"iec","snapshots":[{"v":[120.0,120.0,208.0],"i":[20.0,20.0,20.0]}]})",
    R"({"contract":1,"id":"ce","service":"3P3W-CE","nominal":{"v_ln":277.128,"v_ll":480.0,"hz":60.0},"earthed":"b",)"
    R"("prior":"commissioning","pf_sign":"unknown","var_sign":"iec","snapshots":[{"v":[480.0,480.0],"i":[20.0,20.0]}]})",
    R"({"contract":1,"id":"k","service":"1P2W","nominal":{"v_ln":230.0,"v_ll":398.4,"hz":50.0},"prior":"commissioning",)"
    R"("pf_sign":"unknown","var_sign":"iec","branches":[{"id":"k1","phase":"a"},{"id":"k2","phase":"b"}],)"
    R"("snapshots":[{"v":[230.0,231.0],"i":[20.0,20.0]}]})",
};
}  // namespace

TEST_CASE("a line that was read is written as it stood, letter by letter") {
    for (auto const* const line : lines) {
        auto const read = commands::read_line(line);
        REQUIRE_MESSAGE(read.has_value(), quantity::to_sentence(read.error().fault));
        std::string const name = read->carried.empty() ? "" : "Shop";
        CHECK(commands::line_of(read->set, name) == line);
    }
}
