// Each answer moves the probabilities the way the wall would: the answers are computed from a planted site by
// core/wiring, which has its own tests and published cases.
#include "core/diagnosis/answers_power.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/diagnosis/diagnose.hpp"
#include "core/diagnosis/site_in_tests.hpp"

using namespace phasewright;
using namespace phasewright::diagnosis;
using plan::Conductor;

namespace {
// By how much the display of a site moves when a resistive load of these watts is switched on.
std::vector<double> moved(TestSite const& site, std::vector<Conductor> const& conductors, double watts) {
    auto const model = plan::model_of(site.service);
    auto const nominal = plan::nominal_from_ln(site.service, site.v_ln, 50.0);
    auto u = plan::source_phasors(model, nominal, plan::Sequence::abc);
    wiring::Currents more{};
    for (std::size_t c = 0; c < 3; ++c) u[c] *= site.volts[c];
    for (auto const conductor : conductors) {
        auto const c = static_cast<std::size_t>(conductor);
        more[c] = u[c] * (watts / static_cast<double>(conductors.size()) / (site.v_ln * site.v_ln));
    }
    std::vector<double> list;
    for (auto const& element : wiring::elements_of(wiring::seen_by(site.wired, model), u, more))
        list.push_back(element.s.real());
    return list;
}

double shown_total(readings::ReadingSet const& set) {
    double sum = 0.0;
    for (auto const& p : set.snapshots[0].p) sum += *p;
    return sum;
}

// The true power of a site in W.
double true_watts(TestSite const& site) {
    double sum = 0.0;
    for (std::size_t c = 0; c < 3; ++c)
        sum += site.v_ln * site.volts[c] * site.amps[c] * std::cos(site.phi_deg * std::numbers::pi / 180.0);
    return sum;
}

readings::TestAnswer switched(TestSite const& site, readings::ReadingSet const& set, Conductor at) {
    readings::TestAnswer answer{
        .kind = "load_switched", .at_what = "conductor", .at = std::string(1, plan::letter_of(at))};
    auto const change = moved(site, {at}, 2000.0);
    for (std::size_t k = 0; k < change.size(); ++k) {
        answer.before_each.push_back(*set.snapshots[0].p[k]);
        answer.during_each.push_back(*set.snapshots[0].p[k] + change[k]);
    }
    return answer;
}
}  // namespace

TEST_CASE("another meter's power shows a ratio that is wrong on all elements") {
    auto site = office();
    site.wired.ratio = {0.5, 0.5, 0.5};
    auto set = read(site);
    double const before = of_wiring(diagnose(set), site.wired);
    CHECK(before < 0.1);
    set.tests = {{.kind = "other_meter", .value = true_watts(site) / 1000.0, .unit = "kW"}};
    CHECK(of_wiring(diagnose(set), site.wired) > 0.9);
    // The same as a fraction: this meter shows half of what the other one does.
    set.tests = {{.kind = "other_meter", .value = 0.5, .unit = "fraction"}};
    CHECK(of_wiring(diagnose(set), site.wired) > 0.9);
    // And a meter that agrees speaks against it.
    set.tests = {{.kind = "other_meter", .value = shown_total(set), .unit = "W"}};
    CHECK(of_wiring(diagnose(set), site.wired) < before);
}

TEST_CASE("another meter that imports tells reversed CTs from export") {
    auto site = office();
    site.wired.current = {{Conductor::a, -1, false}, {Conductor::b, -1, false}, {Conductor::c, -1, false}};
    auto set = read(site);
    set.flow = plan::Flow::both;
    set.tests = {{.kind = "other_meter", .value = true_watts(site), .unit = "W"}};
    CHECK(of_wiring(diagnose(set), site.wired) > 0.97);
    set.tests[0].value = -true_watts(site);
    CHECK(of_wiring(diagnose(set), site.wired) < 0.1);
}

TEST_CASE("another meter's vars part two wirings that show the same watts") {
    auto site = office();
    site.wired.current = {{Conductor::b, -1, false}, {Conductor::c, -1, false}, {Conductor::a, -1, false}};
    auto set = read(site);
    set.rotation = plan::Sequence::abc;
    double const before = of_wiring(diagnose(set), site.wired);
    set.tests = {{.kind = "other_meter",
                  .value = true_watts(site) * std::tan(site.phi_deg * std::numbers::pi / 180.0),
                  .unit = "var"}};
    CHECK(of_wiring(diagnose(set), site.wired) > std::max(2.0 * before, 0.9));
}

TEST_CASE("one cable of two in the window is half the current on every element") {
    auto site = office();
    site.wired.ratio = {0.5, 0.5, 0.5};
    auto set = read(site);
    set.tests = {{.kind = "cables_in_window", .value = 1.0, .of = 2.0}};
    CHECK(of_wiring(diagnose(set), site.wired) > 0.9);
    set.tests = {{.kind = "cables_in_window", .value = 0.5}};
    CHECK(of_wiring(diagnose(set), site.wired) > 0.9);
    set.tests = {{.kind = "cables_in_window", .value = 2.0, .of = 2.0}};
    CHECK(of_wiring(diagnose(set), site.wired) < 0.01);
    CHECK(diagnose(set).state == State::as_planned);
}

TEST_CASE("two turns through one window are found at that CT alone") {
    auto site = office();
    site.wired.ratio = {1.0, 2.0, 1.0};
    auto set = read(site);
    double const before = of_wiring(diagnose(set), site.wired);
    set.tests = {{.kind = "turns_in_window", .at_what = "ct", .at = "CT2", .value = 2.0}};
    CHECK(of_wiring(diagnose(set), site.wired) > std::max(50.0 * before, 0.5));
    set.tests = {{.kind = "turns_in_window", .at_what = "ct", .at = "CT2", .value = 1.0}};
    CHECK(of_wiring(diagnose(set), site.wired) < before);
}

TEST_CASE("a load switched on one phase tells by which element moves, of known size and of unknown") {
    auto site = office();
    site.wired.current = {{Conductor::b, -1, false}, {Conductor::c, -1, false}, {Conductor::a, -1, false}};
    auto set = read(site);
    set.rotation = plan::Sequence::abc;
    CHECK(of_wiring(diagnose(set), site.wired) < 0.5);
    set.tests = {switched(site, set, Conductor::b)};
    // Of unknown size, half of it on one element could be the whole of a smaller one.
    CHECK(of_wiring(diagnose(set), site.wired) > 0.9);
    set.tests[0].value = 2000.0;
    CHECK(of_wiring(diagnose(set), site.wired) > 0.99);
    // A heater on L2 that moves element 2 by its whole power speaks for the plan.
    set.tests = {switched(office(), set, Conductor::b)};
    CHECK(of_wiring(diagnose(set), site.wired) < 0.05);
}

TEST_CASE("the total alone, before and during a known load, shows a reversed phase") {
    auto site = office();
    site.wired.current[1].sign = -1;
    auto set = read(site);
    set.snapshots[0].q.clear();
    double const total = shown_total(set);
    auto const change = moved(site, {Conductor::b}, 6000.0);
    readings::TestAnswer answer{.kind = "load_switched", .at_what = "conductor", .at = "b", .value = 6000.0};
    answer.before = total;
    answer.during = total + change[0] + change[1] + change[2];
    CHECK(*answer.during < total);
    double const before = of_wiring(diagnose(set), site.wired);
    set.tests = {answer};
    CHECK(of_wiring(diagnose(set), site.wired) >= before);
    set.tests[0].during = total + 6000.0;
    CHECK(of_wiring(diagnose(set), site.wired) < before);
}

TEST_CASE("generation that stops makes the total rise, unless the CTs are reversed") {
    auto site = office();
    site.phi_deg = 182.0;  // it exports
    auto set = read(site);
    set.flow = plan::Flow::both;
    auto const as_planned = wiring::as_planned(plan::model_of(site.service));
    double const open = of_wiring(diagnose(set), as_planned);
    CHECK(open < 0.95);
    double const total = shown_total(set);
    set.tests = {{.kind = "generation_stopped", .before = total, .during = total + 30'000.0}};
    CHECK(of_wiring(diagnose(set), as_planned) > 0.98);
    set.tests[0].during = total - 30'000.0;
    CHECK(of_wiring(diagnose(set), as_planned) < 0.25);
    set.tests = {{.kind = "generation_stopped",
                  .unit = "kW",
                  .before = total / 1000.0,
                  .during = total / 1000.0 + 30.0}};
    CHECK(of_wiring(diagnose(set), as_planned) > 0.98);
    // A meter that counts towards the grid shows the mirror of it.
    auto grid = set;
    grid.positive_to_grid = true;
    for (auto& p : grid.snapshots[0].p) p = -*p;
    for (auto& q : grid.snapshots[0].q) q = -*q;
    grid.tests = {{.kind = "generation_stopped", .before = -total, .during = -total - 30'000.0}};
    CHECK(of_wiring(diagnose(grid), as_planned) > 0.98);
}

TEST_CASE("volts from the neutral terminal to the neutral bar tell of the meter's own neutral lead") {
    auto site = office();
    site.amps = {60.0, 10.0, 30.0};
    auto set = read(site);
    auto lost = site.wired;
    lost.neutral = wiring::Touch::lost;
    double const before = of_wiring(diagnose(set), lost);
    set.tests = {{.kind = "tap_to_bus", .at_what = "terminal", .at = "N", .value = 61.0, .unit = "V"}};
    CHECK(answers_not_weighed(set).empty());
    double const volts = of_wiring(diagnose(set), lost);
    CHECK(volts >= before);
    set.tests[0].value = 0.2;
    CHECK(of_wiring(diagnose(set), lost) <= volts);
}

TEST_CASE("one watt moves the element of its own phase by one watt, and a turned one by minus a half") {
    auto const model = plan::model_of(plan::Service::four_wire_wye);
    auto const u = plan::source_phasors(model, {230.0, 398.4, 50.0}, plan::Sequence::abc);
    auto wired = wiring::as_planned(model);
    auto right = moved_per_watt(wiring::seen_by(wired, model), model, u, {Conductor::b});
    CHECK(right[0].w == doctest::Approx(0.0));
    CHECK(right[1].w == doctest::Approx(1.0));
    // Element 1 sees L2's current on L1's volts: cos 120 degrees (derived in docs/physics/pairing.md).
    std::swap(wired.current[0], wired.current[1]);
    auto exchanged = moved_per_watt(wiring::seen_by(wired, model), model, u, {Conductor::b});
    CHECK(exchanged[0].w == doctest::Approx(-0.5));
    CHECK(exchanged[1].w == doctest::Approx(0.0));
    wired.voltage[0] = wiring::Touch::lost;
    // Its own tap is lost: stray volts times what its CT sees of the load.
    auto const stray = moved_per_watt(wiring::seen_by(wired, model), model, u, {Conductor::b})[0];
    CHECK(stray.w == doctest::Approx(0.0));
    CHECK(stray.stray_a == doctest::Approx(1.0 / 230.0));
}
