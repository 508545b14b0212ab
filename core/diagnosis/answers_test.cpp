#include "core/diagnosis/answers.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "core/diagnosis/diagnose.hpp"
#include "core/diagnosis/site_in_tests.hpp"

using namespace phasewright;
using namespace phasewright::diagnosis;
using plan::Conductor;

namespace {
TestSite turned_by_sixty() {
    auto site = office();
    site.wired.current = {{Conductor::b, -1, false}, {Conductor::c, -1, false}, {Conductor::a, -1, false}};
    return site;
}
}  // namespace

TEST_CASE("a known heater on one phase settles what one snapshot leaves open") {
    auto site = turned_by_sixty();
    auto set = read(site);
    set.rotation = plan::Sequence::abc;
    double const before = of_wiring(diagnose(set), site.wired);
    CHECK(before < 0.5);
    // 2 kW at 230 V on L2: 8.7 A more on that conductor, at angle zero.
    auto const model = plan::model_of(site.service);
    auto const u = plan::source_phasors(model, set.nominal, plan::Sequence::abc);
    auto with_heater = set.snapshots[0];
    auto const seen = wiring::seen_by(site.wired, model);
    wiring::Currents more{0.0, u[1] * (2000.0 / (230.0 * 230.0)), 0.0};
    for (std::size_t k = 0; k < 3; ++k) {
        std::complex<double> v = 0.0;
        std::complex<double> i = 0.0;
        for (std::size_t c = 0; c < 4; ++c) v += seen.voltage[k][c] * u[c];
        for (std::size_t c = 0; c < 3; ++c) i += seen.current[k][c] * more[c];
        auto const change = v * std::conj(i);
        *with_heater.p[k] += change.real();
        *with_heater.q[k] += change.imag();
        double const s = std::hypot(*with_heater.p[k], *with_heater.q[k]);
        with_heater.i[k] = s / *with_heater.v[k];
    }
    set.snapshots.push_back(with_heater);
    set.steps = {{.conductors = {Conductor::b}, .to = Conductor::n, .watts = 2000.0, .rated_v = 230.0, .before = 0, .after = 1}};
    auto const verdict = diagnose(set);
    CHECK(of_wiring(verdict, site.wired) > 0.99);
    CHECK(verdict.state == State::mistake);
}

TEST_CASE("zero volts from a terminal to its own busbar clears the taps") {
    auto site = office();
    std::swap(site.wired.voltage[0], site.wired.voltage[1]);
    auto set = read(site);
    set.rotation = plan::Sequence::abc;
    set.snapshots[0].v_angle.clear();
    set.tests = {{.kind = "tap_to_bus", .at_what = "terminal", .at = "V1", .value = 399.0, .unit = "V"}};
    auto const wrong = diagnose(set);
    CHECK(of_wiring(wrong, site.wired) > 0.9);
    set.tests[0].value = 0.4;
    CHECK(of_wiring(diagnose(set), site.wired) < 0.01);
}

TEST_CASE("a clamp shows the ratio, and a CT that gives nothing") {
    auto site = office();
    site.wired.ratio = {0.5, 0.5, 0.5};
    auto set = read(site);
    CHECK(of_wiring(diagnose(set), site.wired) < 0.1);
    set.tests = {{.kind = "clamp_primary", .at_what = "conductor", .at = "a", .value = 41.0, .unit = "A"}};
    CHECK(of_wiring(diagnose(set), site.wired) > 0.3);
    set.tests.push_back({.kind = "clamp_primary", .at_what = "conductor", .at = "b", .value = 39.0, .unit = "A"});
    set.tests.push_back({.kind = "clamp_primary", .at_what = "conductor", .at = "c", .value = 44.5, .unit = "A"});
    CHECK(of_wiring(diagnose(set), site.wired) > 0.98);

    auto dead = office();
    dead.wired.current[2] = {Conductor::a, 1, true};
    auto dead_set = read(dead);
    dead_set.tests = {{.kind = "clamp_primary", .at_what = "conductor", .at = "c", .value = 43.0, .unit = "A"}};
    CHECK(of_wiring(diagnose(dead_set), dead.wired) > 0.95);
    dead_set.tests[0].value = 0.0;
    CHECK(of_wiring(diagnose(dead_set), dead.wired) < 0.1);
}

TEST_CASE("a rotation meter at the source parts exchanged taps from exchanged CTs") {
    auto site = office();
    std::swap(site.wired.voltage[0], site.wired.voltage[1]);
    auto set = read(site);
    auto const one_class = diagnose(set).classes[0];
    bool both = false;
    for (auto const& member : one_class.wirings) both = both || member.wiring == site.wired;
    CHECK(both);
    set.tests = {{.kind = "rotation_at_source", .word = "abc"}};
    auto const told = diagnose(set);
    CHECK(told.classes[0].wirings[0].wiring == site.wired);
    CHECK(told.classes[0].wirings.size() < one_class.wirings.size());
}

TEST_CASE("whether generation runs is a fact once it was asked") {
    auto site = office();
    site.phi_deg = 182.0;
    auto set = read(site);
    set.flow = plan::Flow::both;
    set.tests = {{.kind = "generation_stopped", .word = "no"}};
    CHECK(diagnose(set).classes[0].in_words == "all currents are reversed");
}

TEST_CASE("the power factor of the bill sharpens what is believed of the angle") {
    auto site = turned_by_sixty();
    auto set = read(site);
    set.rotation = plan::Sequence::abc;
    double const before = of_wiring(diagnose(set), site.wired);
    set.tests = {{.kind = "bill_pf", .value = 0.92}};
    CHECK(of_wiring(diagnose(set), site.wired) > 1.5 * before);
}

TEST_CASE("an answer whose place is not one of this meter is listed as unused, and every kind is weighed at its own place") {
    auto set = read(office());
    set.tests = {{.kind = "clamp_primary", .at_what = "ct", .at = "CT9", .value = 38.0, .unit = "A"}};
    CHECK(std::ranges::count(diagnose(set).given.unused, "tests.clamp_primary") == 1);
    set.tests = {{.kind = "other_meter", .value = 26'000.0, .unit = "W"},
                 {.kind = "cables_in_window", .value = 1.0, .of = 1.0},
                 {.kind = "load_switched", .at_what = "conductor", .at = "a", .value = 2000.0, .before = 26300.0, .during = 28310.0},
                 {.kind = "generation_stopped", .before = 26300.0, .during = 26900.0}};
    CHECK(answers_not_weighed(set).empty());
}
