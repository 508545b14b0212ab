// The voltage side of the secondary network, its refusals, and that no description makes it hand out a NaN.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <string>

#include "core/quantity/fault.hpp"
#include "core/wiring/network_in_tests.hpp"

using namespace phasewright;
using namespace phasewright::wiring;
using enum plan::CtOutput;
using enum plan::Service;

namespace {

using Complex = std::complex<double>;



// A fuse of 0.05 ohm before a megohm, and a little more where inputs hang together.
constexpr double fuse_error = 1e-6;

// Steps through every landing of the voltage terminals and of the neutral.
bool next_landing(Wiring& wiring) {
    for (auto& touch : wiring.voltage) {
        touch = static_cast<Touch>((static_cast<int>(touch) + 1) % 5);
        if (touch != Touch::a) return true;
    }
    if (!wiring.neutral) return false;
    *wiring.neutral = static_cast<Touch>((static_cast<int>(*wiring.neutral) + 1) % 5);
    return *wiring.neutral != Touch::a;
}

}  // namespace

TEST_CASE("every landing of every service's taps gives the N that the wiring selects, lost ones among them") {
    for (auto const service : plan::all_services) {
        auto const model = plan::model_of(service);
        auto wiring = as_planned(model);
        std::ranges::fill(wiring.voltage, Touch::a);
        if (wiring.neutral) wiring.neutral = Touch::a;
        int landings = 0;
        double most = 0.0;
        do {
            auto const selected = seen_by(wiring, model);
            auto const seen = solved(as_wired(wiring, model, {}), model).seen;
            for (std::size_t k = 0; k < model.elements.size(); ++k) {
                double const off = apart(seen.voltage[k], selected.voltage[k]);
                if (off > fuse_error) {
                    CAPTURE(plan::code_of(service));
                    CAPTURE(k);
                    std::string landed;
                    for (auto const touch : wiring.voltage) landed += word_of(touch) + " ";
                    CAPTURE(landed);
                    CHECK(off <= fuse_error);
                }
                most = std::max(most, off);
                CHECK(seen.voltage_lost[k] == selected.voltage_lost[k]);
            }
            ++landings;
        } while (next_landing(wiring));
        double const ways = static_cast<double>(wiring.voltage.size() + (wiring.neutral ? 1 : 0));
        CHECK(landings == static_cast<int>(std::pow(5.0, ways)));
        CHECK(most > 0.0);
    }
}

TEST_CASE("a lost neutral shows phase minus the mean of the three; unequal inputs pull the mean") {
    auto network = as_planned(wye, {});
    lose_tap(network, neutral_terminal);
    auto const seen = solved(network).seen;
    double const third = 1.0 / 3.0;
    CHECK(apart(seen.voltage[0], {2 * third, -third, -third, 0.0}) < fuse_error);
    CHECK(apart(seen.voltage[1], {-third, 2 * third, -third, 0.0}) < fuse_error);

    network.shunts[0].ohm = 0.5e6;  // the supply of the meter itself loads tap 1
    CHECK(apart(solved(network).seen.voltage[0], {0.5, -0.25, -0.25, 0.0}) < fuse_error);
}

TEST_CASE("a blown fuse that is fed back looks like a reversed CT at half voltage") {
    auto network = as_planned(wye, {});
    blow_fuse(network, voltage_terminal(0));
    CHECK(solved(network).seen.voltage_lost[0]);
    // A three-phase device behind the same fuses joins the dead terminal to the two live ones.
    network.shunts.push_back({voltage_terminal(0), voltage_terminal(1), 2e3});
    network.shunts.push_back({voltage_terminal(0), voltage_terminal(2), 2e3});
    auto const seen = solved(network).seen;
    CHECK(apart(seen.voltage[0], {0.0, 0.5, 0.5, -1.0}) < 2e-3);
    CHECK_FALSE(seen.voltage_lost[0]);  // it reads, and the network says what
    plan::SourcePhasors const u{phasor(230, 0), phasor(230, -120), phasor(230, 120), 0.0};
    Currents const j{phasor(10, -25), phasor(10, -145), phasor(10, 95)};
    auto const elements = elements_of(seen, u, j);
    CHECK(std::abs(elements[0].v) == doctest::Approx(115.0).epsilon(0.002));
    CHECK(elements[0].s.real() == doctest::Approx(-0.5 * elements[1].s.real()).epsilon(0.003));
}

TEST_CASE(
    "two taps on one terminal stand between their conductors, a lost tap takes stray volts by its "
    "capacitance") {
    auto network = as_planned(wye, {});
    network.taps[1].to = voltage_terminal(0);
    auto const seen = solved(network).seen;
    CHECK(apart(seen.voltage[0], {0.5, 0.5, 0.0, -1.0}) < fuse_error);
    CHECK(seen.voltage_lost[1]);

    auto stray = as_planned(wye, {});
    lose_tap(stray, voltage_terminal(1));
    stray.strays.push_back({conductor_point(plan::Conductor::a), voltage_terminal(1), 1e-9});
    double const x = 2.0 * std::numbers::pi * 50.0 * 1e6 * 1e-9;  // omega R C
    CHECK(std::abs(solved(stray).seen.voltage[1][0]) ==
          doctest::Approx(x / std::hypot(1.0, x)).epsilon(1e-4));
}

TEST_CASE("currents induce nothing on the voltage side, and voltages drive nothing through a current input") {
    auto network = as_planned(wye, {.commoned_low_sides = true});
    earth(network, input_s2(0));
    auto const answer = solved(network);
    for (auto const& v : answer.element_v)
        for (auto const& entry : v.of_currents) CHECK(std::abs(entry) < 1e-12);
    for (auto const& i : answer.input_a)
        for (auto const& entry : i.of_voltages) CHECK(std::abs(entry) < 1e-12);
}

namespace {

// Refused, with the place named.
template <class Edit>
bool refused(std::string_view where, Edit edit, NetworkParts const& parts = {}) {
    auto network = as_planned(wye, parts);
    edit(network);
    auto const answer = solve(network, wye);
    if (answer) return false;
    CHECK_FALSE(answer.error().what.empty());
    CHECK_FALSE(answer.error().allowed.empty());
    CHECK_FALSE(answer.error().remedy.empty());
    CAPTURE(answer.error().where);
    CHECK(answer.error().where == where);
    return true;
}

}  // namespace

TEST_CASE("a description without meaning is refused, and the part is named") {
    double const nan = std::numeric_limits<double>::quiet_NaN();
    double const infinite = std::numeric_limits<double>::infinity();
    CHECK(refused("leads[0].to", [](Network& n) { land(n, {0, CtEnd::s1}, input_s1(3)); }));
    CHECK(refused("leads[1].to", [](Network& n) { land(n, {0, CtEnd::s2}, voltage_terminal(-1)); }));
    CHECK(refused("leads[6].ct", [](Network& n) { land(n, {7, CtEnd::s1}, input_s1(0)); }));
    CHECK(refused("leads[2].ohm", [](Network& n) { n.leads[2].ohm = 0.0; }));
    CHECK(refused("leads[2].ohm", [](Network& n) { n.leads[2].ohm = -0.1; }));
    CHECK(refused("leads[2].ohm", [&](Network& n) { n.leads[2].ohm = nan; }));
    CHECK(refused("taps[1].fuse_ohm", [&](Network& n) { n.taps[1].fuse_ohm = infinite; }));
    CHECK(refused("taps[0].to", [](Network& n) { n.taps[0].to = ct_s1(9); }));
    CHECK(refused("links[0].contact_ohm", [](Network& n) { short_at_ct(n, 0, 0.0); }));
    CHECK(refused("links[0].from", [](Network& n) { short_at_ct(n, 3); }));
    CHECK(refused("earths[0].ohm", [](Network& n) { earth(n, ct_s2(0), 0.0); }));
    CHECK(refused("earths[0].at", [](Network& n) { earth(n, ct_s2(5)); }));
    CHECK(refused("inputs[1].ohm", [](Network& n) { n.inputs[1].ohm = -0.02; }));
    CHECK(refused("inputs[1].displayed_per_ampere",
                  [&](Network& n) { n.inputs[1].displayed_per_ampere = nan; }));
    CHECK(refused("inputs", [](Network& n) { n.inputs.pop_back(); }));
    CHECK(refused("shunts[0].ohm", [](Network& n) { n.shunts[0].ohm = 0.0; }));
    CHECK(refused("shunts[3].to",
                  [](Network& n) { n.shunts.push_back({ct_s1(0), voltage_terminal(4), 1.0}); }));
    CHECK(refused("strays[0].farad", [](Network& n) { n.strays.push_back({ct_s1(0), input_s1(0), 0.0}); }));
    CHECK(refused("cts[0].magnetising_s", [](Network& n) { n.cts[0].magnetising_s = 0.0; }));
    CHECK(refused("cts[0].magnetising_s", [](Network& n) { n.cts[0].magnetising_s = {0.01, 0.02}; }));
    CHECK(refused("cts[1].turns", [](Network& n) { n.cts[1].turns = 0.0; }));
    CHECK(refused("cts[2].winding_ohm", [](Network& n) { n.cts[2].winding_ohm = 0.0; }));
    CHECK(refused("cts[0].knee_share", [](Network& n) { n.cts[0].knee_share = 0.0; }));
    CHECK(refused("cts[0].through_window", [&](Network& n) { n.cts[0].through_window[1] = infinite; }));
    CHECK(refused("hz", [](Network& n) { n.hz = 0.0; }));
    CHECK(refused("cts[0].internal_burden_ohm", [](Network& n) { n.cts[0].internal_burden_ohm = 0.0; },
                  {.output = millivolts, .ratio = {200.0, 0.333}}));
    CHECK(refused("cts[0].mutual_h", [](Network& n) { n.cts[0].mutual_h = 0.0; },
                  {.output = coil, .ratio = {200.0, 0.333}}));
}

namespace {

// A small generator of whole numbers: the same panels on every machine (Park and Miller 1988).
class Whole {
public:
    explicit Whole(std::uint64_t seed) : state_{seed} {}
    int below(int bound) {
        state_ = state_ * 48271 % 2147483647;
        return static_cast<int>(state_ % static_cast<std::uint64_t>(bound));
    }

private:
    std::uint64_t state_;
};

Point any_point(Whole& whole) {
    switch (whole.below(8)) {
        case 0: return {};
        case 1: return conductor_point(static_cast<plan::Conductor>(whole.below(4)));
        case 2: return voltage_terminal(whole.below(3));
        case 3: return neutral_terminal;
        case 4: return ct_s1(whole.below(3));
        case 5: return ct_s2(whole.below(3));
        case 6: return input_s1(whole.below(3));
        default: return input_s2(whole.below(3));
    }
}

Network any_network(Whole& whole) {
    std::array const outputs{five_amperes, one_ampere, millivolts, milliamperes, coil};
    std::array const secondary{5.0, 1.0, 0.333, 0.1, 0.333};
    auto const kind = static_cast<std::size_t>(whole.below(5));
    auto network = as_planned(wye, {.output = outputs.at(kind), .ratio = {200.0, secondary.at(kind)}});
    for (int edits = whole.below(8); edits > 0; --edits) {
        LeadEnd const lead{whole.below(3), whole.below(2) == 0 ? CtEnd::s1 : CtEnd::s2};
        switch (whole.below(6)) {
            case 0: open(network, lead); break;
            case 1: land(network, lead, any_point(whole)); break;
            case 2:
                network.links.push_back({any_point(whole), any_point(whole), 1e-4, whole.below(2) == 0});
                break;
            case 3: earth(network, any_point(whole)); break;
            case 4: network.taps[static_cast<std::size_t>(whole.below(4))].to.reset(); break;
            default: network.strays.push_back({any_point(whole), any_point(whole), 1e-10}); break;
        }
    }
    return network;
}

bool sound(Response const& response) {
    auto const finite = [](Complex entry) {
        return std::isfinite(entry.real()) && std::isfinite(entry.imag());
    };
    return std::ranges::all_of(response.of_voltages, finite) &&
           std::ranges::all_of(response.of_currents, finite);
}

}  // namespace

TEST_CASE("two thousand panels wired at random are all solved, and every number is one") {
    Whole whole{20240607};
    for (int panel = 0; panel < 2000; ++panel) {
        CAPTURE(panel);
        auto const answer = solve(any_network(whole), wye);
        REQUIRE(answer.has_value());
        CHECK(std::ranges::all_of(answer->element_v, sound));
        CHECK(std::ranges::all_of(answer->input_a, sound));
        for (auto const& ct : answer->ct) CHECK((sound(ct.exciting_a) && sound(ct.terminal_v)));
    }
}

TEST_CASE("a panel with nothing landed at all reads nothing") {
    auto network = as_planned(wye, {});
    network.leads.clear();
    network.taps.clear();
    auto const seen = solved(network).seen;
    for (std::size_t k = 0; k < 3; ++k) {
        CHECK(seen.voltage_lost[k]);
        CHECK(seen.current_dead[k]);
        CHECK(apart(seen.voltage[k], {}) < 1e-12);
    }
}
