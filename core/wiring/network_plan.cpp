#include "core/wiring/network_plan.hpp"

#include <algorithm>
#include <numbers>
#include <utility>

namespace phasewright::wiring {
namespace {

using Complex = std::complex<double>;

constexpr double turns_of_a_voltage_output = 4000.0;
constexpr double coil_winding_ohm = 100.0;
constexpr double coil_winding_h = 0.005;
constexpr double milliampere_burden_v = 0.333;  // what a milliampere input drops at rated current
constexpr double ampere_input_ohm = 0.02;       // at 5 A

double angular(NetworkParts const& parts) { return 2.0 * std::numbers::pi * parts.hz; }

bool is_voltage(plan::CtOutput output) {
    return output == plan::CtOutput::millivolts || output == plan::CtOutput::coil;
}

void give_core(SecondarySource& ct, NetworkParts const& parts) {
    double const scale = (5.0 / ct.rated_secondary_a) * (5.0 / ct.rated_secondary_a);
    ct.winding_ohm = 0.1 * scale;
    ct.magnetising_s = parts.magnetising_share * Complex{0.01, -0.02} / scale;
}

// The neutral carries what the live conductors leave over.
std::array<double, 3> through_window(plan::Conductor around, double sense) {
    if (around == plan::Conductor::n) return {-sense, -sense, -sense};
    std::array<double, 3> turns{};
    turns[static_cast<std::size_t>(around)] = sense;
    return turns;
}

SecondarySource source_of(plan::Conductor around, NetworkParts const& parts) {
    SecondarySource ct{.output = parts.output, .through_window = through_window(around, 1.0)};
    switch (parts.output) {
        case plan::CtOutput::millivolts:
            ct.turns = turns_of_a_voltage_output;
            ct.rated_secondary_a = parts.ratio.primary / ct.turns;
            give_core(ct, parts);
            ct.internal_burden_ohm = parts.ratio.secondary / ct.rated_secondary_a;
            break;
        case plan::CtOutput::coil:
            ct.winding_ohm = coil_winding_ohm;
            ct.winding_h = coil_winding_h;
            ct.mutual_h = parts.ratio.secondary / (angular(parts) * parts.ratio.primary);
            break;
        default:
            ct.turns = parts.ratio.factor();
            ct.rated_secondary_a = parts.ratio.secondary;
            give_core(ct, parts);
    }
    return ct;
}

CurrentInput input_of(NetworkParts const& parts) {
    auto const made_for = parts.input_made_for.value_or(parts.output);
    auto const programmed = parts.programmed.value_or(parts.ratio);
    if (is_voltage(made_for)) {
        // The input shows its volts over the programmed volts; one made for coils integrates them first.
        Complex const turn = made_for == plan::CtOutput::coil ? Complex{0.0, -1.0} : Complex{1.0, 0.0};
        return {parts.millivolt_input_ohm, turn * parts.millivolt_input_ohm * programmed.factor()};
    }
    double const rated_a = programmed.secondary;
    bool const milliamperes = made_for == plan::CtOutput::milliamperes;
    double const ohm =
        milliamperes ? milliampere_burden_v / rated_a : ampere_input_ohm * (5.0 / rated_a) * (5.0 / rated_a);
    return {ohm, programmed.factor()};
}

// The meter's own voltage inputs: to its neutral terminal, to its star point, or from terminal to terminal.
void add_voltage_inputs(Network& network, plan::ServiceModel const& model, double ohm) {
    std::vector<std::pair<int, int>> done;  // two elements may share one input
    for (auto const& element : model.elements) {
        std::pair const ends{element.plus, element.minus};
        if (std::ranges::find(done, ends) != done.end()) continue;
        done.push_back(ends);
        Point minus = voltage_terminal(element.minus);
        if (element.minus == plan::to_neutral_terminal) minus = neutral_terminal;
        if (element.minus == plan::to_star_point) minus = {Place::star_point, 0};
        network.shunts.push_back({voltage_terminal(element.plus), minus, ohm});
    }
}

// A lead that is not there yet is laid.
Lead& lead_of(Network& network, LeadEnd end) {
    for (auto& lead : network.leads)
        if (lead.ct == end.ct && lead.end == end.end) return lead;
    network.leads.push_back({.ct = end.ct, .end = end.end});
    return network.leads.back();
}

Tap& tap_of(Network& network, Point terminal) {
    for (auto& tap : network.taps)
        if (tap.to == terminal) return tap;
    network.taps.push_back({.to = terminal});
    return network.taps.back();
}

}  // namespace

Network as_planned(plan::ServiceModel const& model, NetworkParts const& parts) {
    Network network{.hz = parts.hz};
    for (int k = 0; k < static_cast<int>(model.current_inputs.size()); ++k) {
        network.cts.push_back(source_of(model.current_inputs[static_cast<std::size_t>(k)], parts));
        network.inputs.push_back(input_of(parts));
        network.leads.push_back({k, CtEnd::s1, parts.lead_ohm, input_s1(k)});
        network.leads.push_back({k, CtEnd::s2, parts.lead_ohm, input_s2(k)});
    }
    for (int k = 0; k < static_cast<int>(model.terminals.size()); ++k)
        network.taps.push_back(
            {model.terminals[static_cast<std::size_t>(k)], parts.fuse_ohm, false, voltage_terminal(k)});
    if (model.has_neutral)
        network.taps.push_back({plan::Conductor::n, parts.fuse_ohm, false, neutral_terminal});
    add_voltage_inputs(network, model, parts.voltage_input_ohm);
    if (parts.commoned_low_sides) common_low_sides(network);
    return network;
}

namespace {
// Two inputs that a wiring says are fed by one loop: their leads are mis-paired, S1 with S1 where the two CTs aid each
// other, S1 with S2 where they do not.
void join_loops(Wiring const& wiring, plan::ServiceModel const& model, Network& network) {
    std::vector<int> joined;
    for (std::size_t k = 0; k < wiring.current.size(); ++k)
        if (wiring.current[k].with) joined.push_back(static_cast<int>(k));
    if (joined.size() != 2) return;
    for (auto const k : joined) {
        auto const input = static_cast<std::size_t>(k);
        network.cts[input].through_window = through_window(model.current_inputs[input], 1.0);
    }
    auto const& first = wiring.current[static_cast<std::size_t>(joined[0])];
    bool const aiding = first.sign == first.with_sign;
    exchange(network, {joined[0], CtEnd::s1}, {joined[1], aiding ? CtEnd::s1 : CtEnd::s2});
}
}  // namespace

Network as_wired(Wiring const& wiring, plan::ServiceModel const& model, NetworkParts const& parts) {
    auto network = as_planned(model, parts);
    for (std::size_t k = 0; k < wiring.current.size(); ++k) {
        auto const& fed = wiring.current[k];
        network.cts[k].through_window = through_window(fed.conductor, fed.dead ? 0.0 : fed.sign);
        network.inputs[k].displayed_per_ampere *= wiring.ratio[k];
    }
    join_loops(wiring, model, network);
    auto const touch = [&](Point terminal, Touch touched) {
        if (touched == Touch::lost)
            lose_tap(network, terminal);
        else
            feed(network, terminal, static_cast<plan::Conductor>(touched));
    };
    for (int k = 0; k < static_cast<int>(wiring.voltage.size()); ++k)
        touch(voltage_terminal(k), wiring.voltage[static_cast<std::size_t>(k)]);
    if (wiring.neutral) touch(neutral_terminal, *wiring.neutral);
    return network;
}

void turn_round(Network& network, int ct) {
    for (auto& turns : network.cts[static_cast<std::size_t>(ct)].through_window) turns = -turns;
}

void exchange(Network& network, LeadEnd one, LeadEnd other) {
    lead_of(network, one);
    lead_of(network, other);
    std::swap(lead_of(network, one).to, lead_of(network, other).to);
}

void reverse_leads(Network& network, int ct) { exchange(network, {ct, CtEnd::s1}, {ct, CtEnd::s2}); }
void land(Network& network, LeadEnd lead, Point to) { lead_of(network, lead).to = to; }
void open(Network& network, LeadEnd lead) { lead_of(network, lead).to.reset(); }

void short_at_ct(Network& network, int ct, double contact_ohm) {
    network.links.push_back({ct_s1(ct), ct_s2(ct), contact_ohm});
}
void short_at_meter(Network& network, int input, double contact_ohm) {
    network.links.push_back({input_s1(input), input_s2(input), contact_ohm});
}
void common_low_sides(Network& network) {
    for (int k = 1; k < static_cast<int>(network.inputs.size()); ++k)
        network.links.push_back({input_s2(k - 1), input_s2(k), 0.0001});
}
void earth(Network& network, Point at, double ohm) { network.earths.push_back({at, ohm}); }

void blow_fuse(Network& network, Point terminal) { tap_of(network, terminal).blown = true; }
void lose_tap(Network& network, Point terminal) { tap_of(network, terminal).to.reset(); }
void feed(Network& network, Point terminal, plan::Conductor from) { tap_of(network, terminal).from = from; }

}  // namespace phasewright::wiring
