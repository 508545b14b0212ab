#include "core/diagnosis/floating_star.hpp"

#include <doctest/doctest.h>

#include "core/diagnosis/diagnose.hpp"
#include "core/diagnosis/findings.hpp"
#include "core/diagnosis/site_in_tests.hpp"

namespace phasewright::diagnosis {

namespace {
using Complex = std::complex<double>;
using Impedances = std::array<Complex, 3>;

Complex ohms(double size, double deg) { return std::polar(size, deg * std::numbers::pi / 180.0); }
Impedances const unlike{ohms(20.0, 18.0), ohms(5.0, 20.0), ohms(5.5, 15.0)};

// Millman's theorem: where loads from each phase to one point carry that point. Common knowledge of circuit theory.
Complex millman(plan::SourcePhasors const& u, Impedances const& z, std::size_t n) {
    Complex driven = 0.0;
    Complex admittance = 0.0;
    for (std::size_t k = 0; k < n; ++k) {
        driven += u[k] / z[k];
        admittance += 1.0 / z[k];
    }
    return driven / admittance;
}

enum class Broken { supply, meters_lead, nothing };
// A panel whose supply neutral, or whose meter's neutral lead, is broken. The inputs of the meter are then unequal: one
// of them feeds the meter too.
readings::ReadingSet panel(plan::Service service, Impedances const& z, Broken broken, std::size_t reversed = 9) {
    auto const model = plan::model_of(service);
    readings::ReadingSet set;
    set.id = "test";
    set.service = service;
    set.nominal = service == plan::Service::four_wire_wye ? plan::Nominal{230.0, 400.0, 50.0} : plan::Nominal{120.0, 240.0, 60.0};
    set.ct_planned = {{100.0, 5.0}};
    set.ct_output = plan::CtOutput::five_amperes;
    auto const u = plan::source_phasors(model, set.nominal, plan::Sequence::abc);
    std::size_t const n = model.live.size();
    Complex const star = broken == Broken::supply ? millman(u, z, n) : 0.0;
    Complex const inputs = broken == Broken::meters_lead ? millman(u, {Complex{1e6}, Complex{2e6}, Complex{1.3e6}}, n) : star;
    std::vector<wiring::ElementSeen> seen;
    for (std::size_t k = 0; k < n; ++k) {
        wiring::ElementSeen element{.v = u[k] - inputs, .i = (u[k] - star) / z[k], .s = {}};
        if (k == reversed) element.i = -element.i;
        element.s = element.v * std::conj(element.i);
        seen.push_back(element);
    }
    set.snapshots = {snapshot_of(seen)};
    for (std::size_t k = 0; k + 1 < n || (n == 3 && k < n); ++k)
        set.snapshots[0].v_ll.emplace_back(std::abs(u[k] - u[(k + 1) % n]));
    return set;
}
double true_watts(readings::ReadingSet const& set) {
    double sum = 0.0;
    for (auto const& p : set.snapshots[0].p) sum += std::abs(*p);
    return sum;
}
}  // namespace

TEST_CASE("three sizes tell where a star point floats, at either rotation and any level of the supply") {
    auto const model = plan::model_of(plan::Service::four_wire_wye);
    for (auto const rotation : {plan::Sequence::abc, plan::Sequence::acb})
        for (double const level : {0.95, 1.0, 1.06}) {
            auto u = plan::source_phasors(model, {230.0, 400.0, 50.0}, rotation);
            Complex const point{37.0, -52.0};
            Observed observed;
            observed.elements = 3;
            observed.volts.resize(3);
            for (std::size_t k = 0; k < 3; ++k) observed.volts[k] = std::abs(level * u[k] - point);
            auto const star = floating_star(model, u, observed, {});
            REQUIRE(star);
            CHECK(std::abs(star->point - point) < 1e-6);
            CHECK(star->scale == doctest::Approx(level).epsilon(1e-9));
        }
}

TEST_CASE("a broken supply neutral is told from the meter's own by currents that return in the phases") {
    for (auto const service : {plan::Service::four_wire_wye, plan::Service::split_phase_three_wire}) {
        CAPTURE(plan::code_of(service));
        auto const of_supply = panel(service, unlike, Broken::supply);
        auto const verdict = diagnose(of_supply);
        CHECK(probability_of(verdict, "the neutral of the supply is broken") > 0.9);
        CHECK(verdict.state == State::mistake);
        REQUIRE_FALSE(verdict.findings.empty());
        CHECK(verdict.findings.front().severity == Severity::stop);
        // The meter reads truly.
        REQUIRE(verdict.true_power.p_w);
        CHECK(*verdict.true_power.p_w == doctest::Approx(true_watts(of_supply)).epsilon(0.01));
        CHECK(verdict.classes.front().wirings.front().hazard.find("line voltage") != std::string::npos);
        REQUIRE(verdict.next_test);
        CHECK(verdict.next_test->at == "N");
    }
    auto const of_lead = diagnose(panel(plan::Service::four_wire_wye, {ohms(10.0, 18.0), ohms(5.0, 20.0), ohms(7.0, 15.0)}, Broken::meters_lead));
    CHECK(probability_of(of_lead, "the meter's neutral is lost") > 0.7);
    CHECK(of_lead.findings.front().severity == Severity::stop);
}

TEST_CASE("behind a broken supply neutral a reversed CT is still found") {
    auto const verdict = diagnose(panel(plan::Service::four_wire_wye, unlike, Broken::supply, 1));
    CHECK(probability_of(verdict, "the neutral of the supply is broken; L2 current is reversed") > 0.85);
}

TEST_CASE("a test between the meter's neutral terminal and the neutral bar parts the two neutrals") {
    auto set = panel(plan::Service::four_wire_wye, unlike, Broken::supply);
    set.tests = {{.kind = "tap_to_bus", .at_what = "terminal", .at = "N", .value = 0.4, .unit = "V"}};
    CHECK(probability_of(diagnose(set), "the neutral of the supply is broken") > 0.99);
    auto of_lead = panel(plan::Service::four_wire_wye, {ohms(10.0, 18.0), ohms(5.0, 20.0), ohms(7.0, 15.0)}, Broken::meters_lead);
    of_lead.tests = {{.kind = "tap_to_bus", .at_what = "terminal", .at = "N", .value = 46.0, .unit = "V"}};
    CHECK(probability_of(diagnose(of_lead), "the meter's neutral is lost") > 0.9);
    CHECK(probability_of(diagnose(of_lead), "the neutral of the supply is broken") < 0.02);
}

TEST_CASE("balanced loads on a supply that is a little uneven raise no alarm for its neutral") {
    for (double const uneven : {0.0, 0.01, 0.02}) {
        auto site = office();
        site.volts = {1.0 - uneven, 1.0 + 0.5 * uneven, 1.0 + uneven};
        site.amps = {40.0, 40.0, 40.0};
        auto const verdict = diagnose(read(site));
        CHECK(probability_of(verdict, "the neutral of the supply is broken") < 0.02);
        for (auto const& finding : verdict.findings) CHECK(finding.severity != Severity::stop);
    }
    auto const even = diagnose(panel(plan::Service::split_phase_three_wire, {ohms(6.0, 10.0), ohms(6.0, 10.0)}, Broken::nothing));
    CHECK(even.state == State::as_planned);
}

}  // namespace phasewright::diagnosis
