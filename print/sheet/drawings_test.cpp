// The drawings' geometry: where a stretch lies, what the copies are called, and that no letter stands on a
// line.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "print/sheet/building.hpp"
#include "print/sheet/phasors.hpp"
#include "print/sheet/turn_ruler.hpp"

using namespace phasewright;
using namespace phasewright::sheet;

namespace {

report::PointSheet read_sheet(plan::Service service, std::vector<double> const& lags) {
    report::PointSheet sheet;
    sheet.point.service = service;
    readings::ReadingSet set;
    set.service = service;
    set.nominal = plan::nominal_from_ln(service, 230.0, 50.0);
    set.snapshots.resize(1);
    sheet.readings = set;
    diagnosis::Verdict verdict;
    for (double const lag : lags) {
        verdict.as_read.push_back({.v = 230.0, .i = 40.0, .lag_deg = lag});
        verdict.expected_lag_deg.push_back(18.0);
        verdict.expected_lag_half_width_deg.push_back(27.0);
        verdict.element_right.push_back(0.992);
    }
    sheet.verdict = verdict;
    return sheet;
}

// A small generator of our own: the same angles on every machine.
struct Angles {
    unsigned state = 12345;
    double next() {
        state = state * 1664525U + 1013904223U;
        return static_cast<double>(state >> 8) / static_cast<double>(1U << 24) * 360.0 - 180.0;
    }
};

double offset_named(std::vector<RulerCopy> const& copies, std::string_view name) {
    auto const found = std::ranges::find(copies, name, &RulerCopy::name);
    REQUIRE(found != copies.end());
    return found->offset_deg;
}

}  // namespace

TEST_CASE("the copies of a four-wire wye stand at 60, 120 and 180 degrees and carry the right names") {
    auto const elements =
        ruler_elements(read_sheet(plan::Service::four_wire_wye, {18, 18, 18}), plan::Region{});
    REQUIRE(elements.size() == 3);
    auto const& first = elements[0].copies;
    CHECK(first.size() == 5);
    // V1 at 0 degrees, I2 at -120 - 18: the element shows 0 - (-138) = 138, which is 120 more than 18.
    CHECK(offset_named(first, "reversed") == doctest::Approx(180.0));
    CHECK(offset_named(first, "L2 current") == doctest::Approx(120.0));
    CHECK(offset_named(first, "L3 current") == doctest::Approx(-120.0));
    CHECK(offset_named(first, "L2 reversed") == doctest::Approx(-60.0));
    CHECK(offset_named(first, "L3 reversed") == doctest::Approx(60.0));
}

TEST_CASE("the other rotation exchanges the copies' places") {
    auto sheet = read_sheet(plan::Service::four_wire_wye, {18, 18, 18});
    sheet.readings->rotation = plan::Sequence::acb;
    auto const elements = ruler_elements(sheet, plan::Region{});
    CHECK(offset_named(elements[0].copies, "L2 current") == doctest::Approx(-120.0));
}

TEST_CASE("on a split-phase service a reversed CT and the other leg's CT show the same and share one copy") {
    auto const elements =
        ruler_elements(read_sheet(plan::Service::split_phase_three_wire, {18, 18}), plan::Region{});
    REQUIRE(elements[0].copies.size() == 1);
    CHECK(elements[0].copies[0].name == "reversed or L2 current");
}

TEST_CASE("no letter of a turn ruler stands on a line, for any service, angle and stretch") {
    Angles angles;
    for (auto const service : plan::all_services) {
        auto const model = plan::model_of(service);
        for (int round = 0; round < 60; ++round) {
            std::vector<double> lags;
            for (std::size_t k = 0; k < model.elements.size(); ++k) lags.push_back(angles.next());
            auto sheet = read_sheet(service, lags);
            for (auto& expected : sheet.verdict->expected_lag_deg) expected = angles.next();
            for (auto& half : sheet.verdict->expected_lag_half_width_deg)
                half = std::abs(angles.next()) / 2.0;
            for (auto const size : {DrawingSize::full, DrawingSize::small}) {
                auto const drawing = turn_ruler(ruler_elements(sheet, plan::Region{}), size);
                INFO(std::string(plan::code_of(service)), size == DrawingSize::full ? " full " : " small ",
                     drawing.body);
                CHECK(letters_in_the_way(drawing) == 0);
            }
        }
    }
}

TEST_CASE("no letter of a phasor diagram stands on a line, and none is left out") {
    Angles angles;
    for (auto const service : plan::all_services) {
        auto const model = plan::model_of(service);
        for (int round = 0; round < 200; ++round) {
            std::vector<double> lags;
            for (std::size_t k = 0; k < model.elements.size(); ++k) lags.push_back(angles.next());
            auto const sheet = read_sheet(service, lags);
            auto const set = phasor_set(sheet, plan::Region{});
            auto const drawing = phasors(set);
            CHECK(letters_in_the_way(drawing) == 0);
            CHECK(drawing.letters.size() == 2 * model.elements.size());
        }
    }
}

TEST_CASE("the current of an element is drawn behind its voltage by the lag") {
    auto sheet = read_sheet(plan::Service::four_wire_wye, {23, -157, 23});
    auto set = phasor_set(sheet, plan::Region{});
    CHECK(set.elements[1].v_deg == doctest::Approx(-120.0));
    CHECK(set.elements[1].i_deg == doctest::Approx(37.0));
    CHECK_FALSE(set.note.empty());
    sheet.readings->snapshots[0].v_angle = {0.0, -121.0, 119.0};
    set = phasor_set(sheet, plan::Region{});
    CHECK(set.elements[1].v_deg == doctest::Approx(-121.0));
    CHECK(set.note.empty());
}

TEST_CASE("a reading that lacks everything still gives drawings") {
    auto sheet = read_sheet(plan::Service::four_wire_wye, {});
    CHECK(phasors_svg(phasor_set(sheet, plan::Region{})).empty());
    CHECK(letters_in_the_way(turn_ruler(ruler_elements(sheet, plan::Region{}), DrawingSize::full)) == 0);
    sheet.verdict.reset();
    CHECK(turn_ruler_svg(sheet, plan::Region{}, DrawingSize::full).empty());
}

TEST_CASE("a panel's letters stay clear of its lines, whatever the names") {
    BuildingPanel panel{
        "Panel of a very long and winding name in the third basement", "230/400 V, 50 Hz", {}};
    std::string const longest(200, 'M');
    for (auto const state : {report::PointState::done, report::PointState::doubtful,
                             report::PointState::wrong, report::PointState::not_yet})
        for (bool const next : {false, true})
            panel.points.push_back({longest, longest, "point-1", state, true, next});
    CHECK(letters_in_the_way(panel_drawing(panel)) == 0);
}
