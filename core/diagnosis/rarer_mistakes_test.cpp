// Mistakes beyond a lead on the wrong terminal: two loops in one, raw coils, voltage transformers, settings.
#include <doctest/doctest.h>

#include <algorithm>

#include "core/diagnosis/diagnose.hpp"
#include "core/diagnosis/site_in_tests.hpp"

using namespace phasewright;
using namespace phasewright::diagnosis;

namespace {
WiringClass const* class_of(Verdict const& verdict, std::string_view words) {
    auto const found = std::ranges::find_if(verdict.classes, [&](auto const& c) { return c.in_words.find(words) != std::string::npos; });
    return found == verdict.classes.end() ? nullptr : &*found;
}
bool stops(Verdict const& verdict) {
    return std::ranges::any_of(verdict.findings, [](auto const& f) { return f.severity == Severity::stop; });
}
}  // namespace

TEST_CASE("two crossed 5 A pairs become one loop: stop, no factor, and both elements show one current") {
    auto site = office();
    for (auto const k : {0U, 1U}) {
        site.wired.current[k] = {plan::Conductor::a, +1, false};
        site.wired.current[k].with = plan::Conductor::b;
    }
    auto set = read(site);
    set.load_kind.whole = plan::LoadKind::mixed;
    set.flow = plan::Flow::import_only;
    auto const verdict = diagnose(set);
    CHECK(verdict.state == State::mistake);
    CHECK(stops(verdict));
    CHECK(probability_of(verdict, "two loops have become one") > 0.3);
    auto const* const joined = class_of(verdict, "two loops have become one");
    REQUIRE(joined != nullptr);
    CHECK(joined->energy_law == EnergyLaw::lost);
    CHECK_FALSE(joined->true_power.p_w);
    CHECK_FALSE(joined->wirings[0].hazard.empty());
    CHECK(joined->wirings[0].repair.front().move.find("touch nothing") != std::string::npos);
}

TEST_CASE("two reversed CTs are no joined loop: their currents stand 120 degrees apart") {
    auto site = office();
    site.amps = {40.0, 40.0, 40.0};  // equal, as in one loop
    for (auto const k : {0U, 1U}) site.wired.current[k].sign = -1;
    auto set = read(site);
    set.flow = plan::Flow::import_only;
    auto const verdict = diagnose(set);
    CHECK(probability_of(verdict, "two loops have become one") < 0.01);
    CHECK_FALSE(stops(verdict));
}

TEST_CASE("voltage-output CTs make no loop, so none is joined") {
    auto set = read(office());
    set.ct_output = plan::CtOutput::millivolts;
    CHECK(probability_of(diagnose(set), "two loops have become one") == 0.0);
}

TEST_CASE("a raw coil on a voltage input, as plan and meter tell it: watts show as var") {
    auto site = office();
    for (auto& feed : site.wired.current) feed.quarter_turn = true;
    auto set = read(site);
    set.ct_output = plan::CtOutput::coil;
    set.meter_input = plan::CtOutput::millivolts;
    set.load_kind.whole = plan::LoadKind::mixed;
    // Lag 23 degrees turned 90 degrees back: P = S cos(-67) and Q = S sin(-67).
    CHECK(*set.snapshots[0].q[0] < -0.9 * *set.snapshots[0].v[0] * *set.snapshots[0].i[0]);
    auto const verdict = diagnose(set);
    REQUIRE_FALSE(verdict.classes.empty());
    CHECK(verdict.classes[0].in_words.find("raw coil") != std::string::npos);
    CHECK(verdict.classes[0].energy_law == EnergyLaw::lost);
}

TEST_CASE("a voltage transformer back to front shows its element's watts turned, where there are transformers") {
    auto site = office();
    site.wired.vt_sign = {1, -1, 1};
    auto set = read(site);
    set.vt_planned = {{230.0, 230.0}};
    set.rotation = plan::Sequence::abc;
    auto const verdict = diagnose(set);
    REQUIRE_FALSE(verdict.classes.empty());
    CHECK(verdict.classes[0].in_words.find("the voltage transformer at V2 is back to front") != std::string::npos);
    REQUIRE(verdict.true_power.p_w);
    CHECK(*verdict.true_power.p_w == doctest::Approx(26'300).epsilon(0.01));
    set.vt_planned.clear();
    CHECK(probability_of(diagnose(set), "voltage transformer") == 0.0);
}

TEST_CASE("two transformers in open delta, one back to front: the outer line voltage is root three too high") {
    TestSite site{.service = plan::Service::three_wire_two_element, .v_ln = 230.0};
    site.wired = wiring::as_planned(plan::model_of(site.service));
    site.wired.vt_sign = {-1, 1, 1};
    auto set = read(site);
    set.vt_planned = {{400.0, 100.0}};
    // Common practice for open-delta VTs: V31 = -V12 - V23 becomes V12 - V23, of root three times the size.
    auto const line = set.nominal.v_ll;
    set.snapshots[0].v_ll = {line, line, line * 1.7320508};
    set.rotation = plan::Sequence::abc;
    auto const verdict = diagnose(set);
    REQUIRE_FALSE(verdict.classes.empty());
    CHECK(verdict.classes[0].in_words.find("the voltage transformer at V1 is back to front") != std::string::npos);
}

TEST_CASE("a four-wire meter set to two elements shows line volts and nothing on its middle element") {
    auto site = office();
    site.wired.two_elements = true;
    auto const set = read(site);
    CHECK(*set.snapshots[0].v[0] == doctest::Approx(398.4).epsilon(0.01));
    CHECK(*set.snapshots[0].v[1] == doctest::Approx(0.0));
    auto const verdict = diagnose(set);
    REQUIRE_FALSE(verdict.classes.empty());
    CHECK(verdict.classes[0].in_words.find("set to compute two elements") != std::string::npos);
}

TEST_CASE("a motor that seems to lead on every phase: the meter's sign of reactive power comes into question") {
    auto site = office();
    site.phi_deg = 35.0;
    site.wired.vars_turned = true;
    auto set = read(site);
    for (auto& q : set.snapshots[0].q) q = -*q;  // the forward model has no settings of signs
    set.load_kind.whole = plan::LoadKind::motor;
    set.flow = plan::Flow::import_only;
    auto const verdict = diagnose(set);
    CHECK(probability_of(verdict, "other sign") > 0.02);
    auto const* const turned = class_of(verdict, "other sign");
    REQUIRE(turned != nullptr);
    REQUIRE(turned->true_power.p_w);
    double p = 0.0;
    for (auto const& one : set.snapshots[0].p) p += *one;
    CHECK(*turned->true_power.p_w == doctest::Approx(p).epsilon(0.001));
    CHECK(*turned->true_power.q_var > 0.0);
    // Told that nothing is known of the sign, it is no mistake but a reading in two ways.
    set.var_sign = readings::SignHabit::unknown;
    CHECK(probability_of(diagnose(set), "other sign") == 0.0);
}
