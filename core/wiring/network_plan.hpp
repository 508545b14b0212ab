// A secondary network as planned for a service, and what hands then do to it, one sentence each:
//     auto network = as_planned(model, {.output = five_amperes});
//     exchange(network, {0, CtEnd::s1}, {1, CtEnd::s2});
// The values of the parts are this project's model of a class 0.5 window CT of 200/5 A with an electronic
// meter, no source: core loss 100 ohm and magnetising reactance 50 ohm seen from a 5 A winding, winding 0.1
// ohm, input 0.02 ohm (0.5 VA at 5 A). A core keeps its ampere-turns: for another rated secondary current I_s
// every ohm of the winding side scales by (5 A / I_s)^2, and every siemens by the reciprocal (the ideal
// transformer).
#pragma once
#include "core/quantity/quantity.hpp"
#include "core/wiring/network.hpp"

namespace phasewright::wiring {

struct NetworkParts {
    plan::CtOutput output = plan::CtOutput::five_amperes;  // unknown counts as 5 A
    quantity::TransformerRatio ratio{200.0, 5.0};  // secondary in A; in V for voltage outputs and coils
    std::optional<quantity::TransformerRatio> programmed;  // what the meter was told; the same where empty
    std::optional<plan::CtOutput> input_made_for;  // what the meter's inputs expect; the same where empty
    double hz = 50.0;
    double lead_ohm = 0.05;          // of each single wire of a CT
    double fuse_ohm = 0.05;          // of each voltage tap with its wire
    double magnetising_share = 1.0;  // 0.5: a core that takes half of the exciting current
    double voltage_input_ohm = 1e6;  // of each voltage input of the meter
    double millivolt_input_ohm = 1e6;
    bool commoned_low_sides = false;  // the S2 sides of the current inputs are joined inside the meter
};
[[nodiscard]] Network as_planned(plan::ServiceModel const& model, NetworkParts const& parts);

// The same landings as a wiring's: what wiring.hpp selects, this solves. A dead feed is a CT beside its
// conductor; two inputs in one loop are two pairs with their leads mis-paired.
[[nodiscard]] Network as_wired(Wiring const& wiring, plan::ServiceModel const& model,
                               NetworkParts const& parts);

// One end of one CT.
struct LeadEnd {
    int ct = 0;
    CtEnd end = CtEnd::s1;
};

void turn_round(Network& network, int ct);                    // on its conductor, P2 towards the source
void exchange(Network& network, LeadEnd one, LeadEnd other);  // each lands where the other did
void reverse_leads(Network& network, int ct);
void land(Network& network, LeadEnd lead, Point to);
void open(Network& network, LeadEnd lead);

// The bar of a test block or of the meter's own terminals, left closed.
void short_at_ct(Network& network, int ct, double contact_ohm = 0.001);
void short_at_meter(Network& network, int input, double contact_ohm);
void common_low_sides(Network& network);
void earth(Network& network, Point at, double ohm = 0.1);

void blow_fuse(Network& network, Point terminal);
void lose_tap(Network& network, Point terminal);                    // its wire lands nowhere
void feed(Network& network, Point terminal, plan::Conductor from);  // its wire comes from this conductor

inline constexpr Point neutral_terminal{Place::neutral_terminal, 0};
[[nodiscard]] constexpr Point voltage_terminal(int at) { return {Place::voltage_terminal, at}; }
[[nodiscard]] constexpr Point input_s1(int at) { return {Place::input_s1, at}; }
[[nodiscard]] constexpr Point input_s2(int at) { return {Place::input_s2, at}; }
[[nodiscard]] constexpr Point ct_s1(int at) { return {Place::ct_s1, at}; }
[[nodiscard]] constexpr Point ct_s2(int at) { return {Place::ct_s2, at}; }
[[nodiscard]] constexpr Point conductor_point(plan::Conductor conductor) {
    return {Place::conductor, static_cast<int>(conductor)};
}

}  // namespace phasewright::wiring
