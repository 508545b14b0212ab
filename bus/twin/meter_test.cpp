// The sampled meter against closed forms worked out on paper, none of them from code of this project:
//   a connection error turns an element's power by a fixed angle, S' = S_j e^{j theta} where j is the phase
//   whose current it carries; the figures below come from V I cos(phi) and V I sin(phi) with a desk
//   calculator.
#include "bus/twin/meter.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "bus/twin/wired_file.hpp"

using namespace phasewright;
using plan::Conductor;
using plan::Service;
using twin::FittedCt;
using twin::LooseLead;

namespace {
constexpr double rad = std::numbers::pi / 180.0;

// One point on an ideal supply: no harmonics, no noise, no wander, until a test asks for them.
struct Bench {
    plan::ServiceModel model;
    twin::Supply supply;
    twin::WiredPoint wired;
    [[nodiscard]] readings::Snapshot read(double time_s = 0.0, std::uint64_t seed = 1) const {
        return twin::shown_at(model, supply, wired, seed, time_s);
    }
};

Bench bench(Service service, std::vector<double> volts, twin::SupplyKind kind = twin::SupplyKind::wye) {
    plan::MeteringPoint point{.id = "bench", .service = service};
    point.ct.ratio = {200.0, 5.0};
    Bench made{.model = plan::model_of(service),
               .supply = {.kind = kind, .v = std::move(volts), .fifth = 0.0, .seventh = 0.0},
               .wired = twin::as_planned(point)};
    made.wired.wander = {0.0, 0.0};
    made.wired.noise = {0.0, 0.0};
    return made;
}

twin::Load load(Conductor from, Conductor to, double amps, double lag_deg) {
    return {.between = {{from, to}}, .amps = amps, .lag_deg = lag_deg};
}

std::vector<twin::Load> wye_loads(std::array<double, 3> amps, std::array<double, 3> lag_deg) {
    std::vector<twin::Load> loads;
    for (std::size_t k = 0; k < 3; ++k)
        loads.push_back(load(static_cast<Conductor>(k), Conductor::n, amps[k], lag_deg[k]));
    return loads;
}

// 277 V, 80 A at 20, 55 A at 35, 31 A at 5 degrees: P 41 857.7 W, Q 17 066.0 var.
Bench worked_vector() {
    auto made = bench(Service::four_wire_wye, {277.0, 277.0, 277.0});
    made.wired.loads = wye_loads({80.0, 55.0, 31.0}, {20.0, 35.0, 5.0});
    return made;
}

// The demo's true load: 231/229/232 V, 41.2/38.7/44.0 A, power factor 0.92 lagging.
Bench demo_tenant() {
    auto made = bench(Service::four_wire_wye, {231.0, 229.0, 232.0});
    double const lag_deg = std::acos(0.92) / rad;
    made.wired.loads = wye_loads({41.2, 38.7, 44.0}, {lag_deg, lag_deg, lag_deg});
    return made;
}

void set_cts(Bench& on, std::vector<Conductor> const& round, bool p1_faces_source) {
    for (std::size_t k = 0; k < round.size(); ++k) {
        on.wired.cts[k].round = round[k];
        on.wired.cts[k].p1_faces_source = p1_faces_source;
    }
}

void check_watts(readings::Snapshot const& shown, std::vector<double> const& watts, double tolerance_w) {
    REQUIRE(shown.p.size() == watts.size());
    for (std::size_t k = 0; k < watts.size(); ++k) CHECK(std::abs(*shown.p[k] - watts[k]) < tolerance_w);
}
}  // namespace

TEST_CASE("rms, watts and vars of an unbalanced load are those of the phasors") {
    auto const shown = worked_vector().read();
    check_watts(shown, {20823.6, 12479.8, 8554.3}, 0.06);
    CHECK(std::abs(*shown.q[0] - 7579.2) < 0.06);
    CHECK(std::abs(*shown.q[1] - 8738.4) < 0.06);
    CHECK(std::abs(*shown.q[2] - 748.4) < 0.06);
    CHECK(std::abs(*shown.p_total - 41857.7) < 0.06);
    CHECK(std::abs(*shown.q_total - 17066.0) < 0.06);
    CHECK(std::abs(*shown.v[1] - 277.0) < 1e-9);
    CHECK(std::abs(*shown.i[2] - 31.0) < 1e-9);
    for (auto const& v_ll : shown.v_ll) CHECK(std::abs(*v_ll - 277.0 * std::numbers::sqrt3) < 1e-9);
    CHECK(std::abs(*shown.pf[1] - std::cos(35.0 * rad)) < 1e-9);
    CHECK(std::abs(*shown.hz - 50.0) < 1e-4);
    CHECK(shown.sequence == plan::Sequence::abc);
    CHECK(std::abs(*shown.v_angle[1] + 120.0) < 1e-9);
    CHECK(std::abs(*shown.i_angle[0] + 20.0) < 1e-9);
    CHECK(std::abs(*shown.i_angle[2] - 115.0) < 1e-9);
}

TEST_CASE(
    "a turned CT, a CT behind closed links and two CTs on each other's conductors change the total as "
    "derived") {
    auto turned = worked_vector();
    turned.wired.cts[0].p1_faces_source = false;
    CHECK(std::abs(*turned.read().p_total - 210.5) < 0.06);

    auto crossed_leads = worked_vector();
    crossed_leads.wired.cts[0].s1_on_s1 = false;
    CHECK(std::abs(*crossed_leads.read().p_total - 210.5) < 0.06);

    auto both = worked_vector();
    both.wired.cts[0].p1_faces_source = false;
    both.wired.cts[0].s1_on_s1 = false;
    CHECK(std::abs(*both.read().p_total - 41857.7) < 0.06);

    auto closed = worked_vector();
    closed.wired.cts[0].links_closed = true;
    CHECK(std::abs(*closed.read().p_total - 21034.1) < 0.06);

    auto exchanged = worked_vector();
    set_cts(exchanged, {Conductor::b, Conductor::a, Conductor::c}, true);
    CHECK(std::abs(*exchanged.read().p_total + 9101.3) < 0.06);
}

TEST_CASE("the demo's tenants show the watts that were computed for them") {
    check_watts(demo_tenant().read(), {8756.0, 8153.0, 9391.0}, 1.0);
    CHECK(std::abs(*demo_tenant().read().p_total - 26300.0) < 5.0);
    CHECK(std::abs(*demo_tenant().read().q_total - 11200.0) < 5.0);

    auto a = demo_tenant();
    a.wired.cts[1].p1_faces_source = false;
    check_watts(a.read(), {8760.0, -8150.0, 9390.0}, 5.0);
    CHECK(std::abs(*a.read().q_total - 4260.0) < 5.0);

    auto b = demo_tenant();
    set_cts(b, {Conductor::b, Conductor::a, Conductor::c}, true);
    check_watts(b.read(), {-7150.0, -1140.0, 9390.0}, 5.0);
    CHECK(std::abs(*b.read().q_total - 10.0) < 5.0);

    auto c = demo_tenant();
    set_cts(c, {Conductor::b, Conductor::c, Conductor::a}, false);
    check_watts(c.read(), {7150.0, 8050.0, 7640.0}, 6.0);
    CHECK(std::abs(*c.read().q_total + 17170.0) < 6.0);

    auto d = demo_tenant();
    set_cts(d, {Conductor::c, Conductor::a, Conductor::b}, true);
    check_watts(d.read(), {-1230.0, -1140.0, -1080.0}, 5.0);
    CHECK(std::abs(*d.read().q_total + 28400.0) < 50.0);
}

TEST_CASE("ratios: the fitted one divides, the programmed one multiplies") {
    auto made = worked_vector();
    made.wired.cts[1].ratio = {400.0, 5.0};
    made.wired.cts[1].programmed = {200.0, 5.0};
    CHECK(std::abs(*made.read().i[1] - 27.5) < 1e-9);
    CHECK(std::abs(*made.read().p[1] - 12479.8 / 2.0) < 0.06);
}

TEST_CASE("one of two parallel cables in the window shows half of the current at the same angle") {
    auto made = worked_vector();
    made.wired.cts[1].window_share = 0.5;
    CHECK(std::abs(*made.read().i[1] - 27.5) < 1e-9);
    CHECK(std::abs(*made.read().p[1] - 12479.8 / 2.0) < 0.06);
    CHECK(std::abs(*made.read().q[1] - 8738.4 / 2.0) < 0.06);
}

TEST_CASE("a tap that touches nothing reads nothing, a ghost stands where the file puts it") {
    auto made = worked_vector();
    made.wired.taps[1] = LooseLead{};
    auto const lost = made.read();
    CHECK(std::abs(*lost.v[1]) < 1e-9);
    CHECK(std::abs(*lost.p_total - (41857.7 - 12479.8)) < 0.06);
    CHECK_FALSE(lost.sequence.has_value());
    CHECK_FALSE(lost.v_angle[1].has_value());

    made.wired.taps[1] = LooseLead{.ghost_v = 70.0, .copy_of = Conductor::a};
    auto const ghost = made.read();
    CHECK(std::abs(*ghost.v[1] - 70.0) < 1e-9);
    CHECK(std::abs(*ghost.v_angle[1]) < 1e-9);
    CHECK(std::abs(*ghost.v_ll[0] - 207.0) < 1e-9);  // both along conductor a
    // |70 - 277 at 120 degrees|, by the law of cosines
    CHECK(std::abs(*ghost.v_ll[1] - std::sqrt(70.0 * 70.0 + 277.0 * 277.0 + 70.0 * 277.0)) < 1e-9);
}

TEST_CASE(
    "a neutral lead that touches nothing floats to the mean, one on phase c shows two line voltages and "
    "zero") {
    auto floating = bench(Service::four_wire_wye, {231.0, 225.0, 240.0});
    floating.wired.neutral = LooseLead{};
    auto const shown = floating.read();
    // V0 = (Va + Vb + Vc) / 3 by components: re (231 - 225/2 - 240/2) / 3, im (240 - 225) sqrt(3)/2 / 3
    double const re = (231.0 - 112.5 - 120.0) / 3.0;
    double const im = 15.0 * std::numbers::sqrt3 / 2.0 / 3.0;
    CHECK(std::abs(*shown.v[0] - std::hypot(231.0 - re, im)) < 1e-9);

    auto on_c = worked_vector();
    on_c.wired.neutral = Conductor::c;
    auto const volts = on_c.read().v;
    CHECK(std::abs(*volts[0] - 277.0 * std::numbers::sqrt3) < 1e-9);
    CHECK(std::abs(*volts[1] - 277.0 * std::numbers::sqrt3) < 1e-9);
    CHECK(std::abs(*volts[2]) < 1e-9);
}

TEST_CASE("two elements on three wires share a balanced load as cos(phi + 30) and cos(phi - 30)") {
    double const v_ll = 230.0 * std::numbers::sqrt3;
    double const phi = 36.86989765;  // power factor 0.8
    auto made = bench(Service::three_wire_two_element, {230.0, 230.0, 230.0});
    made.wired.loads = {{.between = std::nullopt, .amps = 10.0, .lag_deg = phi}};
    auto const per_unit = [&](readings::Snapshot const& shown) {
        return std::array{*shown.p[0] / (v_ll * 10.0), *shown.p[1] / (v_ll * 10.0)};
    };
    auto const right = per_unit(made.read());
    CHECK(std::abs(right[0] - 0.3928) < 1e-4);
    CHECK(std::abs(right[1] - 0.9928) < 1e-4);
    CHECK(std::abs(*made.read().i[0] - 10.0) < 1e-9);
    CHECK(made.read().sequence == plan::Sequence::abc);

    auto turned = made;  // the first CT: total is tan(phi)/sqrt(3) of the truth, 0.433 at this power factor
    turned.wired.cts[0].p1_faces_source = false;
    CHECK(std::abs(*turned.read().p_total / *made.read().p_total - 0.433) < 1e-3);

    auto common = made;  // the common tap: half of the truth at every power factor
    common.wired.taps[1] = LooseLead{};
    CHECK(std::abs(*common.read().p_total / *made.read().p_total - 0.5) < 1e-9);

    auto first = made;  // the first tap: its element sees nothing
    first.wired.taps[0] = LooseLead{};
    CHECK(std::abs(*first.read().p[0]) < 1e-6);
}

TEST_CASE("three elements on three wires measure to their own star point") {
    auto made = bench(Service::three_wire_three_ct, {230.0, 230.0, 230.0});
    made.wired.loads = {load(Conductor::a, Conductor::b, 10.0, 0.0)};
    auto const shown = made.read();
    CHECK(std::abs(*shown.v[0] - 230.0) < 1e-9);
    CHECK(std::abs(*shown.p_total - 230.0 * std::numbers::sqrt3 * 10.0) < 1e-6);
    CHECK(std::abs(*shown.i[2]) < 1e-9);
    auto lost =
        made;  // the star point moves to the middle of the two that are left: half the line voltage each
    lost.wired.taps[2] = LooseLead{};
    CHECK(std::abs(*lost.read().v[0] - 230.0 * std::numbers::sqrt3 / 2.0) < 1e-9);
    CHECK(std::abs(*lost.read().v[2]) < 1e-9);
}

TEST_CASE("split phase, two phases of a wye and one phase") {
    auto split = bench(Service::split_phase_three_wire, {120.0, 120.0}, twin::SupplyKind::split_phase);
    split.wired.loads = {load(Conductor::a, Conductor::b, 20.0, 0.0),
                         load(Conductor::a, Conductor::n, 5.0, 60.0)};
    auto const legs = split.read();
    check_watts(legs, {120.0 * 20.0 + 300.0, 120.0 * 20.0}, 1e-6);
    CHECK(std::abs(*legs.v_ll[0] - 240.0) < 1e-9);
    split.wired.cts[0].p1_faces_source = false;
    check_watts(split.read(), {-2700.0, 2400.0}, 1e-6);

    // A load between two phases of a wye: V I cos(phi - 30) and V I cos(phi + 30), element by element.
    auto network = bench(Service::two_phases_of_wye, {120.0, 120.0, 120.0});
    network.wired.loads = {load(Conductor::a, Conductor::b, 10.0, 0.0)};
    auto const both = network.read();
    CHECK(std::abs(*both.p[0] - 1200.0 * std::cos(30.0 * rad)) < 1e-6);
    CHECK(std::abs(*both.q[0] + 1200.0 * std::sin(30.0 * rad)) < 1e-6);
    CHECK(std::abs(*both.q[1] - 1200.0 * std::sin(30.0 * rad)) < 1e-6);

    auto one = bench(Service::one_phase_two_wire, {230.0, 230.0, 230.0});
    one.wired.loads = {load(Conductor::a, Conductor::n, 3.0, -60.0)};
    CHECK(std::abs(*one.read().p[0] - 345.0) < 1e-6);
    CHECK(*one.read().q[0] < 0.0);
}

TEST_CASE(
    "a high-leg delta shows 120, 208 and 120 V at 0, -90 and 180 degrees, and a triangle's watts in three "
    "parts") {
    auto made = bench(Service::high_leg_delta, {120.0, 240.0 * std::numbers::sqrt3 / 2.0, 120.0},
                      twin::SupplyKind::high_leg);
    made.supply.hz = 60.0;
    made.wired.loads = {{.between = std::nullopt, .amps = 10.0, .lag_deg = 20.0}};
    auto const shown = made.read();
    CHECK(std::abs(*shown.v[1] - 207.85) < 0.01);
    CHECK(std::abs(*shown.v_angle[1] + 90.0) < 1e-9);
    CHECK(std::abs(std::abs(*shown.v_angle[2]) - 180.0) < 1e-9);
    for (auto const& v_ll : shown.v_ll) CHECK(std::abs(*v_ll - 240.0) < 1e-9);
    // cos(phi - 30), sqrt(3) cos(phi), cos(phi + 30) times 120 V times 10 A
    check_watts(shown,
                {1200.0 * std::cos(10.0 * rad), 1200.0 * std::numbers::sqrt3 * std::cos(20.0 * rad),
                 1200.0 * std::cos(50.0 * rad)},
                1e-6);
    CHECK(shown.sequence == plan::Sequence::abc);
    CHECK(std::abs(*shown.hz - 60.0) < 1e-4);
    made.supply.rotation = plan::Sequence::acb;
    CHECK(made.read().sequence == plan::Sequence::acb);
    CHECK(std::abs(*made.read().v_angle[1] - 90.0) < 1e-9);
}

TEST_CASE("harmonics raise the rms, show as distortion, and leave watts to the orders that both waves have") {
    auto made = bench(Service::one_phase_two_wire, {230.0, 230.0, 230.0});
    made.supply.fifth = 0.03;
    made.wired.loads = {load(Conductor::a, Conductor::n, 10.0, 0.0)};
    made.wired.loads[0].third = 0.3;
    made.wired.loads[0].fifth = 0.2;
    auto const shown = made.read();
    CHECK(std::abs(*shown.v[0] - 230.0 * std::sqrt(1.0 + 0.03 * 0.03)) < 1e-9);
    CHECK(std::abs(*shown.i[0] - 10.0 * std::sqrt(1.0 + 0.09 + 0.04)) < 1e-9);
    CHECK(std::abs(*shown.thd_i[0] - std::sqrt(0.13)) < 1e-9);
    CHECK(std::abs(*shown.p[0] - 2300.0 * (1.0 + 0.03 * 0.2)) < 1e-6);
    CHECK(*shown.pf[0] < 0.96);
}

TEST_CASE("energy that goes out has negative watts, and shorting links leave only noise") {
    auto solar = bench(Service::one_phase_two_wire, {230.0, 230.0, 230.0});
    solar.wired.loads = {load(Conductor::a, Conductor::n, 10.0, 180.0)};
    CHECK(std::abs(*solar.read().p[0] + 2300.0) < 1e-6);

    auto shorted = worked_vector();
    shorted.wired.noise.amps = 0.0001;
    for (auto& ct : shorted.wired.cts) ct.links_closed = true;
    auto const shown = shorted.read();
    for (auto const& i : shown.i) {
        CHECK(*i > 0.015);
        CHECK(*i < 0.025);  // 200 A times 0.0001
    }
    for (auto const& p : shown.p) CHECK(std::abs(*p) < 1.0);
    CHECK_FALSE(shown.i_angle[0].has_value());
}

TEST_CASE("the same seed and time give the same numbers; other moments and seeds give others, close by") {
    auto made = worked_vector();
    made.wired.wander = {3.0, 2.0};
    made.wired.noise = {0.05, 0.0002};
    CHECK(*made.read(1000.0).p_total == *made.read(1000.0).p_total);
    CHECK(*made.read(1000.1).p_total == *made.read(1000.4).p_total);  // held for half a second
    CHECK(*made.read(1000.0).p_total != *made.read(1000.5).p_total);
    CHECK(*made.read(1000.0, 1).p_total != *made.read(1000.0, 2).p_total);
    double sum = 0.0;
    double sum_of_squares = 0.0;
    int const moments = 400;
    for (int k = 0; k < moments; ++k) {
        double const amps = *made.read(97.0 * k).i[0];
        sum += amps / 80.0 - 1.0;
        sum_of_squares += (amps / 80.0 - 1.0) * (amps / 80.0 - 1.0);
        CHECK(std::abs(amps / 80.0 - 1.0) < 0.03 * 2.9);
    }
    CHECK(std::abs(sum / moments) < 0.01);
    CHECK(std::abs(std::sqrt(sum_of_squares / moments) - 0.03) < 0.006);
}

TEST_CASE("a load moves little from one second to the next") {
    auto made = worked_vector();
    made.wired.wander = {3.0, 2.0};
    for (int k = 0; k < 50; ++k) CHECK(std::abs(*made.read(k + 1.0).i[0] - *made.read(k).i[0]) < 0.01 * 80.0);
}
