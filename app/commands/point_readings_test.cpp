#include "app/commands/point_readings.hpp"

#include <doctest/doctest.h>

using namespace phasewright;
using namespace phasewright::commands;

namespace {

plan::Site invented_site() {
    plan::Site site;
    site.panels = {{"db-2", "DB-2", {230.0, 400.0, 50.0}}};
    site.points = {{.id = "tenant-3", .panel = "db-2", .load_kind = plan::LoadKind::motor}};
    site.points[0].flow = plan::Flow::import_only;
    site.points[0].breaker_a = 63.0;
    site.points[0].ct = {{200.0, 5.0}, plan::CtOutput::five_amperes, "0.5"};
    return site;
}

TimedReading invented_reading(double watts, std::string time) {
    TimedReading one;
    one.reading.snapshot.v = {231.0, 229.0, 232.0};
    one.reading.snapshot.i = {41.2, 38.7, 44.0};
    one.reading.snapshot.p = {watts, watts, watts};
    one.reading.skew_s = watts / 1e5;
    one.time = std::move(time);
    return one;
}

profile::Profile three_inputs() {
    profile::Profile profile;
    profile.terminals = {{"2", "5", "8"}, "11", {{"1", "3"}, {"4", "6"}, {"7", "9"}}};
    profile.services = {{.service = plan::Service::four_wire_wye, .elements = {0, 1, 2}},
                        {.service = plan::Service::three_wire_two_element, .elements = {0, 2}}};
    return profile;
}

}  // namespace

TEST_CASE("a reading set carries the plan's facts and the meter's own settings") {
    auto const site = invented_site();
    auto first = invented_reading(8000.0, "2026-11-25T09:27:06+00:00");
    first.reading.ct_programmed = quantity::TransformerRatio{100.0, 5.0};
    auto const set =
        reading_set_of(site, site.points[0], {first, invented_reading(9000.0, "later")}, nullptr, true);
    CHECK(set.id == "tenant-3");
    CHECK(set.nominal.v_ll == 400.0);
    CHECK(set.ct_planned.at(0).factor() == 40.0);
    CHECK(set.ct_programmed.at(0).factor() == 20.0);
    CHECK(set.ct_output == plan::CtOutput::five_amperes);
    CHECK(set.load_kind.whole == plan::LoadKind::motor);
    CHECK(set.flow == plan::Flow::import_only);
    CHECK(set.breaker_a == 63.0);
    CHECK(set.snapshots.size() == 2);
    CHECK(set.snapshots[0].time == "2026-11-25T09:27:06+00:00");
    CHECK(set.skew_s == doctest::Approx(0.09));
    CHECK(set.prior == readings::Prior::commissioning);
    CHECK(set.terminals.voltage.size() == 3);
    CHECK(set.terminals.current.size() == 3);
}

TEST_CASE("without load kinds the set does not know what the plan knew") {
    auto const site = invented_site();
    auto const set = reading_set_of(site, site.points[0], {invented_reading(8000.0, "now")}, nullptr, false);
    CHECK_FALSE(set.load_kind.whole.has_value());
    CHECK(set.flow.has_value());
}

TEST_CASE("a repair names the terminals that are printed on the meter") {
    auto const profile = three_inputs();
    auto const wye = terminals_for(&profile, plan::model_of(plan::Service::four_wire_wye));
    CHECK(wye.voltage == std::vector<std::string>{"2", "5", "8"});
    CHECK(wye.neutral == "11");
    CHECK(wye.current.at(1).s1 == "4");
}

TEST_CASE("two elements use the first and the last input of a meter with three") {
    auto const profile = three_inputs();
    auto const two = terminals_for(&profile, plan::model_of(plan::Service::three_wire_two_element));
    REQUIRE(two.current.size() == 2);
    CHECK(two.current[0].s1 == "1");
    CHECK(two.current[1].s1 == "7");
}

TEST_CASE("a profile that prints fewer terminals leaves the rest their default names") {
    profile::Profile bare;
    bare.services = {{.service = plan::Service::four_wire_wye, .elements = {0, 1, 2}}};
    auto const names = terminals_for(&bare, plan::model_of(plan::Service::four_wire_wye));
    CHECK(names.voltage == std::vector<std::string>{"V1", "V2", "V3"});
    CHECK(names.current.size() == 3);
}

TEST_CASE("a SunSpec delta model does not contradict a plan with two elements, a wye model does") {
    auto site = invented_site();
    site.points[0].service = plan::Service::three_wire_two_element;
    auto reading = invented_reading(8000.0, "now");
    reading.reading.sunspec_model = 204;
    reading.reading.meter_service = plan::Service::three_wire_three_ct;
    CHECK_FALSE(reading_set_of(site, site.points[0], {reading}, nullptr, true).meter_service.has_value());
    reading.reading.meter_service = plan::Service::four_wire_wye;
    CHECK(reading_set_of(site, site.points[0], {reading}, nullptr, true).meter_service.has_value());
}
