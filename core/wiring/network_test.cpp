// The current side of the secondary network. Expected numbers are closed forms of docs/physics/network.md;
// the same panels are solved a second time by ngspice in tests/journeys/spice_peer_test.cpp.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/wiring/network_in_tests.hpp"

using namespace phasewright;
using namespace phasewright::wiring;
using enum plan::CtOutput;
using enum plan::Service;

namespace {

using Complex = std::complex<double>;

double degrees(Complex value) { return std::arg(value) * 180.0 / std::numbers::pi; }

constexpr LeadEnd s1_of_a{0, CtEnd::s1};
constexpr LeadEnd s2_of_a{0, CtEnd::s2};
constexpr LeadEnd s1_of_b{1, CtEnd::s1};
constexpr LeadEnd s2_of_b{1, CtEnd::s2};

// S1 and S2 of CT a, S1 and S2 of CT b.
void land_two_pairs(Network& network, std::array<Point, 4> const& at) {
    land(network, s1_of_a, at[0]);
    land(network, s2_of_a, at[1]);
    land(network, s1_of_b, at[2]);
    land(network, s2_of_b, at[3]);
}

// Equation 5: what a landed, isolated loop leaves of the current.
Complex transmitted(SecondarySource const& ct, double lead_ohm, Complex input_ohm) {
    return 1.0 / (1.0 + ct.magnetising_s * (ct.winding_ohm + 2.0 * lead_ohm + input_ohm));
}

// How large the burden error of the planned panel is: what a crossing may differ from its whole numbers.
constexpr double burden_error = 0.015;

double registered_share(NetworkSeen const& network, double lag_deg) {
    plan::SourcePhasors const u{phasor(230, 0), phasor(230, -120), phasor(230, 120), 0.0};
    Currents const j{phasor(10, -lag_deg), phasor(10, -120 - lag_deg), phasor(10, 120 - lag_deg)};
    double registered = 0.0;
    for (auto const& element : elements_of(network.seen, u, j)) registered += element.s.real();
    return registered / true_power(u, j).real();
}

}  // namespace

TEST_CASE("a landed, isolated loop passes the current less what its core takes at the loop's voltage") {
    for (auto const output : {five_amperes, one_ampere, milliamperes}) {
        double const rated_a = output == five_amperes ? 5.0 : output == one_ampere ? 1.0 : 0.1;
        auto const network = as_planned(wye, {.output = output, .ratio = {200.0, rated_a}});
        auto const seen = solved(network).seen;
        auto const expected = transmitted(network.cts[0], 0.05, network.inputs[0].ohm);
        CHECK(std::abs(expected - 1.0) < burden_error);
        for (std::size_t k = 0; k < 3; ++k) {
            Row3 row{};
            row[k] = expected;
            CHECK(apart(seen.current[k], row) < 1e-12);
            CHECK_FALSE(seen.current_dead[k]);
        }
    }
}

TEST_CASE("M tends to the signed selection of the wiring as the core takes less") {
    auto wiring = as_planned(wye);
    wiring.current = {
        {plan::Conductor::c, -1, false}, {plan::Conductor::a, +1, false}, {plan::Conductor::b, +1, true}};
    wiring.ratio = {1.0, 2.0, 1.0};
    auto const selected = seen_by(wiring, wye);
    double last = 1.0;
    for (double const share : {1.0, 0.1, 0.01, 0.001}) {
        auto const seen = solved(as_wired(wiring, wye, {.magnetising_share = share})).seen;
        double most = 0.0;
        for (std::size_t k = 0; k < 3; ++k)
            most = std::max(most, apart(seen.current[k], selected.current[k]));
        CHECK(most < 0.2 * last);
        CHECK(seen.current_dead == selected.current_dead);
        last = most;
    }
    CHECK(last < 2e-5);
}

TEST_CASE("a derived current is minus the sum of the others, in the network as in the wiring") {
    for (auto const service : {three_wire_two_ct, four_wire_two_ct}) {
        auto const model = plan::model_of(service);
        auto const seen = solved(as_planned(model, {.magnetising_share = 1e-9}), model).seen;
        auto const selected = seen_by(as_planned(model), model);
        for (std::size_t k = 0; k < 3; ++k) CHECK(apart(seen.current[k], selected.current[k]) < 1e-8);
    }
}

TEST_CASE(
    "the leads of two CTs can land on two isolated inputs in 24 ways: 8 selections, 8 loops of the sum, 8 of "
    "the difference") {
    std::array<Point, 4> landing{input_s1(0), input_s2(0), input_s1(1), input_s2(1)};
    std::ranges::sort(landing);
    std::array<int, 3> counted{};
    do {
        auto network = as_planned(wye, {});
        land_two_pairs(network, landing);
        auto const seen = solved(network).seen;
        auto const& one = seen.current[0];
        auto const& two = seen.current[1];
        if (std::abs(one[0] * one[1]) < 1e-9) {
            ++counted[0];
            CHECK(std::abs(one[0]) + std::abs(one[1]) == doctest::Approx(1.0).epsilon(burden_error));
            CHECK(std::abs(two[0]) + std::abs(two[1]) == doctest::Approx(1.0).epsilon(burden_error));
            continue;
        }
        // One loop: the inputs read one current, of either sign, half of the sum or half of the difference.
        double const sign = (one[0] / two[0]).real() > 0.0 ? 1.0 : -1.0;
        CHECK(apart(one, {sign * two[0], sign * two[1], sign * two[2]}) < 1e-12);
        bool const sum = (one[0] / one[1]).real() > 0.0;
        ++counted[sum ? 1 : 2];
        for (std::size_t c = 0; c < 2; ++c)
            CHECK(std::abs(one[c]) == doctest::Approx(0.5).epsilon(burden_error));
        CHECK(std::abs(seen.current[2][2]) ==
              doctest::Approx(1.0).epsilon(burden_error));  // the third is not touched
    } while (std::ranges::next_permutation(landing).found);
    CHECK(counted == std::array{8, 8, 8});
}

TEST_CASE(
    "with commoned low sides the 24 ways are 16 selections, and 8 where one CT drives both inputs and the "
    "other is shorted") {
    std::array<Point, 4> landing{input_s1(0), input_s2(0), input_s1(1), input_s2(1)};
    std::ranges::sort(landing);
    std::array<int, 2> counted{};
    do {
        auto network = as_planned(wye, {.commoned_low_sides = true});
        land_two_pairs(network, landing);
        auto const seen = solved(network).seen;
        auto const& one = seen.current[0];
        auto const& two = seen.current[1];
        auto const largest = std::abs(one[0]) > std::abs(one[1]) ? 0U : 1U;
        CHECK(std::abs(one[largest]) == doctest::Approx(1.0).epsilon(burden_error));
        CHECK(std::abs(one[1 - largest]) < 1e-4);
        if (std::abs(two[largest]) < 1e-4) {
            ++counted[0];
            CHECK(std::abs(two[1 - largest]) == doctest::Approx(1.0).epsilon(burden_error));
        } else {
            ++counted[1];
            CHECK(apart(two, {-one[0], -one[1], -one[2]}) < 1e-4);
        }
    } while (std::ranges::next_permutation(landing).found);
    CHECK(counted == std::array{16, 8});
}

TEST_CASE(
    "crossed S1 leads: half the vector sum each on isolated inputs, an exchange of CTs on commoned ones") {
    auto network = as_planned(wye, {});
    exchange(network, s1_of_a, s1_of_b);
    auto const isolated = solved(network);
    CHECK(apart(isolated.seen.current[0], {0.5, 0.5, 0.0}) < burden_error / 2);
    CHECK(apart(isolated.seen.current[1], {0.5, 0.5, 0.0}) < burden_error / 2);
    // Each element sees its current halved and turned by 60 degrees, one forward, one back: (1/4 + 1/4 + 1)
    // / 3.
    CHECK(registered_share(isolated, 0.0) == doctest::Approx(0.5).epsilon(0.01));

    auto commoned = network;
    common_low_sides(commoned);
    CHECK(apart(solved(commoned).seen.current[0], {0.0, 1.0, 0.0}) < burden_error);
    CHECK(apart(solved(commoned).seen.current[1], {1.0, 0.0, 0.0}) < burden_error);
}

TEST_CASE(
    "a crossed loop weighs the two currents by what each core resists, and asks each core for the rest") {
    auto network = as_planned(wye, {});
    exchange(network, s1_of_a, s1_of_b);
    network.cts[1].magnetising_s *= 0.25;
    // Equation 6 before the cores are taken alike.
    Complex const za = 1.0 / network.cts[0].magnetising_s;
    Complex const zb = 1.0 / network.cts[1].magnetising_s;
    Complex const all = za + zb + 2.0 * 0.1 + 4.0 * 0.05 + 2.0 * 0.02;
    auto const answer = solved(network);
    CHECK(apart(answer.seen.current[0], {za / all, zb / all, 0.0}) < 1e-12);
    CHECK(apart(answer.seen.current[1], {za / all, zb / all, 0.0}) < 1e-12);
    CHECK(std::abs(40.0 * answer.ct[0].exciting_a.of_currents[0] - (1.0 - za / all)) < 1e-12);
    CHECK(std::abs(40.0 * answer.ct[1].exciting_a.of_currents[0] + za / all) < 1e-12);
}

TEST_CASE("the diagnosis' joined loops are what the network makes of mis-paired leads, in either sense") {
    for (std::int8_t const sense : {std::int8_t{1}, std::int8_t{-1}}) {
        auto wired = as_planned(wye);
        wired.current[0] = {plan::Conductor::a, +1, false, plan::Conductor::b, sense};
        wired.current[1] = {plan::Conductor::a, sense, false, plan::Conductor::b, +1};
        auto const selected = seen_by(wired, wye);
        auto const network = solved(as_wired(wired, wye, {}));
        for (std::size_t k = 0; k < 3; ++k) CHECK(apart(network.seen.current[k], selected.current[k]) < burden_error);
    }
}

TEST_CASE("three CTs in one ring all read a third of the sum: nothing on a balanced load") {
    auto network = as_planned(wye, {});
    exchange(network, s1_of_a, s1_of_b);
    exchange(network, s1_of_b, {2, CtEnd::s1});
    auto const answer = solved(network);
    double const third = 1.0 / 3.0;
    for (std::size_t k = 0; k < 3; ++k)
        CHECK(apart(answer.seen.current[k], {third, third, third}) < third * burden_error);
    CHECK(std::abs(registered_share(answer, 20.0)) < 1e-12);
}

TEST_CASE("crossed S2 leads: the same loop on isolated inputs, and nothing at all on commoned ones") {
    auto network = as_planned(wye, {});
    exchange(network, s2_of_a, s2_of_b);
    CHECK(apart(solved(network).seen.current[0], {0.5, 0.5, 0.0}) < burden_error / 2);
    common_low_sides(network);
    auto const planned = solved(as_planned(wye, {.commoned_low_sides = true})).seen;
    auto const harmless = solved(network).seen;
    for (std::size_t k = 0; k < 3; ++k) CHECK(apart(harmless.current[k], planned.current[k]) < 1e-4);
}

TEST_CASE("X1 of one CT with X2 of another: half the vector difference, once forward and once backward") {
    auto network = as_planned(wye, {});
    exchange(network, s1_of_a, s2_of_b);
    auto const isolated = solved(network).seen;
    CHECK(apart(isolated.current[0], {0.5, -0.5, 0.0}) < burden_error / 2);
    CHECK(apart(isolated.current[1], {-0.5, 0.5, 0.0}) < burden_error / 2);
    common_low_sides(network);
    auto const commoned = solved(network).seen;  // CT a lies across the bar
    CHECK(apart(commoned.current[0], {0.0, -1.0, 0.0}) < burden_error);
    CHECK(apart(commoned.current[1], {0.0, 1.0, 0.0}) < burden_error);
}

TEST_CASE("earths at the CTs close crossed loops separately; one earth on an isolated loop changes nothing") {
    auto network = as_planned(wye, {});
    auto const before = solved(network).seen;
    earth(network, ct_s2(0));
    CHECK(apart(solved(network).seen.current[0], before.current[0]) < 1e-12);
    earth(network, input_s1(1));
    CHECK(apart(solved(network).seen.current[1], before.current[1]) < 1e-12);

    auto crossed = as_planned(wye, {});
    exchange(crossed, s1_of_a, s1_of_b);
    for (int k = 0; k < 3; ++k) earth(crossed, ct_s2(k), 0.01);
    CHECK(apart(solved(crossed).seen.current[0], {0.0, 1.0, 0.0}) < burden_error);
    CHECK(apart(solved(crossed).seen.current[1], {1.0, 0.0, 0.0}) < burden_error);
}

TEST_CASE("crossed loops leave the linear answer at 5.8 per cent of load, a planned panel never does") {
    // Half the vector difference of two balanced currents is 0.866 of one; 0.25 A over 0.866 x 5 A.
    auto crossed = as_planned(wye, {});
    exchange(crossed, s1_of_a, s1_of_b);
    auto const planned = as_planned(wye, {});
    auto const crossed_seen = solved(crossed);
    auto const planned_seen = solved(planned);
    for (double const share : {0.02, 0.05, 0.065, 0.2, 1.2}) {
        double const j = 200.0 * share;
        Currents const currents{phasor(j, 0), phasor(j, -120), phasor(j, 120)};
        CAPTURE(share);
        CHECK(past_knee(crossed, crossed_seen, {}, currents) == (share > 0.058));
        CHECK_FALSE(past_knee(crossed, crossed_seen, 2, {}, currents));
        CHECK_FALSE(past_knee(planned, planned_seen, {}, currents));
    }
}

TEST_CASE("an open lead reads nothing and puts the whole current into the core") {
    auto network = as_planned(wye, {});
    open(network, s1_of_b);
    auto const answer = solved(network);
    CHECK(answer.seen.current_dead[1]);
    CHECK_FALSE(answer.seen.current_dead[0]);
    CHECK(apart(answer.seen.current[1], {}) < 1e-12);
    CHECK(std::abs(answer.ct[1].exciting_a.of_currents[1] - 1.0 / 40.0) < 1e-12);
    CHECK(past_knee(network, answer, 1, {}, {0.0, 11.0, 0.0}));
    CHECK_FALSE(past_knee(network, answer, 1, {}, {0.0, 9.0, 0.0}));  // 5 % of 200 A is 10 A
    CHECK(std::abs(answer.ct[1].terminal_v.of_currents[1] - (1.0 / 40.0) / Complex{0.01, -0.02}) < 1e-9);
}

TEST_CASE(
    "a link on the CT side starves the input; a bar left on the meter's input takes three quarters at true "
    "angles") {
    auto network = as_planned(wye, {});
    short_at_ct(network, 0);
    short_at_meter(network, 1, 0.02 / 3.0);  // contacts with a third of the input's resistance
    auto const seen = solved(network).seen;
    CHECK(seen.current_dead[0]);
    CHECK(std::abs(seen.current[0][0]) == doctest::Approx(0.001 / (0.001 + 0.12)).epsilon(0.01));
    CHECK_FALSE(seen.current_dead[1]);
    CHECK(std::abs(seen.current[1][1]) == doctest::Approx(0.25).epsilon(0.01));
    CHECK(std::abs(degrees(seen.current[1][1])) < 0.5);
    network.links[1].closed = false;
    CHECK(std::abs(solved(network).seen.current[1][1]) == doctest::Approx(1.0).epsilon(0.01));
}

TEST_CASE("long leads cost a 5 A loop per cents and degrees, and a milliampere loop next to nothing") {
    auto network = as_planned(wye, {.lead_ohm = 0.726});
    auto const seen = solved(network).seen;
    CHECK(std::abs(seen.current[0][0] - transmitted(network.cts[0], 0.726, 0.02)) < 1e-12);
    CHECK(std::abs(seen.current[0][0]) == doctest::Approx(0.984).epsilon(0.001));
    CHECK(degrees(seen.current[0][0]) == doctest::Approx(1.77).epsilon(0.01));  // the secondary leads

    NetworkParts parts{.output = milliamperes, .ratio = {200.0, 0.1}};
    auto const with_short = solved(as_planned(wye, parts)).seen;
    parts.lead_ohm = 0.726;
    CHECK(apart(solved(as_planned(wye, parts)).seen.current[0], with_short.current[0]) < 2e-5);
}

TEST_CASE("a common return carries the three loops; broken, it takes their mean away") {
    auto network = as_planned(wye, {.commoned_low_sides = true});
    network.links.push_back({ct_s2(0), ct_s2(1), 0.0001});
    network.links.push_back({ct_s2(1), ct_s2(2), 0.0001});
    open(network, {0, CtEnd::s2});
    open(network, {2, CtEnd::s2});
    CHECK(apart(solved(network).seen.current[0], {1.0, 0.0, 0.0}) < burden_error);
    open(network, s2_of_b);
    auto const broken = solved(network).seen;
    CHECK(apart(broken.current[0], {2.0 / 3.0, -1.0 / 3.0, -1.0 / 3.0}) < burden_error);
    CHECK(apart(broken.current[1], {-1.0 / 3.0, 2.0 / 3.0, -1.0 / 3.0}) < burden_error);
}

TEST_CASE(
    "two CTs on one input give the sum, two turns give the double, two conductors in opposite senses the "
    "difference") {
    auto network = as_planned(wye, {});
    land(network, s1_of_b, input_s1(0));
    land(network, s2_of_b, input_s2(0));
    network.cts[2].through_window = {0.0, -1.0, 2.0};
    auto const seen = solved(network).seen;
    CHECK(apart(seen.current[0], {1.0, 1.0, 0.0}) < burden_error);
    CHECK(seen.current_dead[1]);
    CHECK(apart(seen.current[2], {0.0, -1.0, 2.0}) < 2 * burden_error);
}

TEST_CASE("a wrong programmed ratio and reversed leads show as they do in the wiring") {
    auto network = as_planned(wye, {.programmed = quantity::TransformerRatio{400.0, 5.0}});
    reverse_leads(network, 2);
    auto const seen = solved(network).seen;
    CHECK(apart(seen.current[0], {2.0, 0.0, 0.0}) < 2 * burden_error);
    CHECK(apart(seen.current[2], {0.0, 0.0, -2.0}) < 2 * burden_error);
}

TEST_CASE(
    "an air-core coil is right on its own input, and reads vars as watts on one made for voltage-output "
    "CTs") {
    NetworkParts parts{.output = coil, .ratio = {200.0, 0.333}};
    auto const own = solved(as_planned(wye, parts));
    CHECK(apart(own.seen.current[0], {1.0, 0.0, 0.0}) < 2e-4);  // 100 ohm of winding before a megohm
    parts.input_made_for = millivolts;
    auto const other = solved(as_planned(wye, parts));
    CHECK(apart(other.seen.current[0], {Complex{0.0, 1.0}, 0.0, 0.0}) < 2e-4);
    CHECK(registered_share(other, 0.0) == doctest::Approx(0.0).epsilon(1e-3));
    CHECK(registered_share(other, 36.87) == doctest::Approx(0.75).epsilon(1e-3));  // tan 36.87 = Q / P
    CHECK(std::abs(other.ct[0].exciting_a.of_currents[0]) == 0.0);
}

TEST_CASE("a broken lead of a voltage-output CT still shows amperes through its capacitance") {
    auto network = as_planned(wye, {.output = millivolts, .ratio = {200.0, 0.333}});
    CHECK(apart(solved(network).seen.current[0], {1.0, 0.0, 0.0}) < burden_error);
    open(network, s1_of_b);
    CHECK(solved(network).seen.current_dead[1]);
    // Its own volts over a gap of 100 pF: omega R C = 0.031 of the current, 88 degrees ahead.
    network.strays.push_back({ct_s1(1), input_s1(1), 100e-12});
    auto const gap = solved(network);
    CHECK_FALSE(gap.seen.current_dead[1]);
    double const x = 2.0 * std::numbers::pi * 50.0 * 1e6 * 100e-12;
    CHECK(std::abs(gap.seen.current[1][1]) == doctest::Approx(x / std::hypot(1.0, x)).epsilon(0.005));
    CHECK(degrees(gap.seen.current[1][1]) == doctest::Approx(88.2).epsilon(0.005));
    // 230 V of a neighbour through 10 pF, the loop earthed: 0.72 V, which this meter shows as more than rated
    // current.
    earth(network, input_s2(1));
    network.strays.push_back({conductor_point(plan::Conductor::a), input_s1(1), 10e-12});
    auto const volts = std::abs(solved(network).input_a[1].of_voltages[0]) * 230.0 * 1e6;
    CHECK(volts == doctest::Approx(0.72).epsilon(0.02));
    CHECK(volts / 0.333 * 200.0 > 200.0);
}
