// The secondary network: everything between the conductors and the meter, as the wires really run. Each
// current transformer is a current source beside its magnetising admittance; its leads have resistance and
// land somewhere or nowhere; inputs of the meter have a burden, shorting links are open or closed, an earth
// may stand anywhere; each voltage tap is a source behind its fuse, and the meter's voltage inputs are
// resistances between its terminals. Kirchhoff's current law at every node and Ohm's law on every branch
// (docs/physics/network.md, equations 1 to 4) give
//     v = N U      i = M J
// for any landing of the lead ends: the same `Seen` that wiring.hpp selects by hand where all leads are
// landed and isolated. One factorisation serves seven right-hand sides: one ampere in each live conductor,
// one volt on each of a, b, c, n.
// Assumes phasors of one frequency and cores below their knee. Where an exciting current passes the knee the
// answer is no answer any more: ask `past_knee`, then predict no size and no angle.
#pragma once
#include <array>
#include <complex>
#include <expected>
#include <optional>
#include <vector>

#include "core/plan/service.hpp"
#include "core/plan/site.hpp"
#include "core/quantity/fault.hpp"
#include "core/wiring/wiring.hpp"

namespace phasewright::wiring {

// Where something can be joined. `at` counts from 0: conductors (a, b, c, n), the meter's voltage terminals,
// CTs, or its current inputs. Earth, the neutral terminal and the star point inside the meter are one each.
enum class Place {
    earth,
    conductor,
    voltage_terminal,
    neutral_terminal,
    star_point,
    ct_s1,
    ct_s2,
    input_s1,
    input_s2
};
struct Point {
    Place place = Place::earth;
    int at = 0;
    friend constexpr auto operator<=>(Point const&, Point const&) = default;
};

// S1, or X1, is where the current comes out while the primary current flows from P1 to P2.
enum class CtEnd { s1, s2 };

// A current transformer or an air-core coil. Impedances are those of the secondary side.
struct SecondarySource {
    plan::CtOutput output = plan::CtOutput::five_amperes;
    // How often each live conductor runs through the window, counted positive from P1 to P2: {1, 0, 0} as
    // planned on a, {-1, 0, 0} turned round, {2, 0, 0} two turns, {1, -1, 0} two conductors in opposite
    // senses, {} beside the conductor.
    std::array<double, 3> through_window{};
    double turns = 40.0;  // primary amperes for one secondary ampere; a coil has none
    double winding_ohm = 0.1;
    double winding_h = 0.0;                           // leakage inductance; of a coil, its own inductance
    std::complex<double> magnetising_s{0.01, -0.02};  // seen from the secondary; not of a coil
    double internal_burden_ohm = 0.0;                 // across S1-S2 inside a voltage-output CT; 0: none
    double mutual_h = 0.0;                            // of a coil: v = j omega M J
    double rated_secondary_a = 5.0;                   // current in the winding at rated primary current
    double knee_share = 0.05;  // where it begins to saturate: exciting current over rated secondary current
};

// One wire from an end of a CT. Landed nowhere: open.
struct Lead {
    int ct = 0;
    CtEnd end = CtEnd::s1;
    double ohm = 0.05;
    std::optional<Point> to;
};

// A current input of the meter, from its S1 side to its S2 side.
struct CurrentInput {
    std::complex<double> ohm{0.02, 0.0};
    std::complex<double> displayed_per_ampere{40.0, 0.0};  // what the meter makes of one ampere through it
};

struct Link {  // a shorting link, or a bar that commons terminals
    Point from;
    Point to;
    double contact_ohm = 0.001;
    bool closed = true;
};

struct Earth {
    Point at;
    double ohm = 0.1;
};

// One wire from a conductor, through a fuse, to a terminal of the meter.
struct Tap {
    plan::Conductor from = plan::Conductor::a;
    double fuse_ohm = 0.05;  // with its wire
    bool blown = false;
    std::optional<Point> to;
};

struct Shunt {  // a voltage input of the meter, or another device that is fed from the same taps
    Point from;
    Point to;
    std::complex<double> ohm{1e6, 0.0};
};

struct Stray {  // capacitance of cables, of a gap, of a neighbour
    Point from;
    Point to;
    double farad = 0.0;
};

struct Network {
    double hz = 50.0;
    std::vector<SecondarySource> cts;
    std::vector<Lead> leads;
    std::vector<CurrentInput> inputs;
    std::vector<Link> links;
    std::vector<Earth> earths;
    std::vector<Tap> taps;
    std::vector<Shunt> shunts;
    std::vector<Stray> strays;
};

// A quantity of the network as a linear function of the source's phasors, against earth, and line currents.
struct Response {
    Row4 of_voltages{};
    Row3 of_currents{};
};
[[nodiscard]] std::complex<double> at(Response const& response, plan::SourcePhasors const& u,
                                      Currents const& j);

struct CtSolved {
    Response exciting_a;  // through the magnetising admittance; zero for a coil
    Response terminal_v;  // S1 against S2
};

struct NetworkSeen {
    Seen seen;                        // N and M as the elements have them; `current` in displayed amperes
    std::vector<Response> element_v;  // N, and what a current induces in it
    std::vector<Response> input_a;    // secondary amperes through each input, and what voltages drive there
    std::vector<CtSolved> ct;
};

// Refuses a description that has no meaning: an index that names nothing, a resistance that is no positive
// number, a CT without a magnetising admittance, more or fewer inputs than the service's meter has.
//
// An island without any path to earth or to a conductor is tied to earth at one node. One tie closes no
// circuit, so no current flows in it: it settles the island's potential, which nobody reads.
[[nodiscard]] std::expected<NetworkSeen, quantity::Fault> solve(Network const& network,
                                                                plan::ServiceModel const& model);

[[nodiscard]] std::optional<quantity::Fault> fault_in(Network const& network,
                                                      plan::ServiceModel const& model);

// An element with no landed tap on its own terminal, and one whose input is shorted or starved, count as lost
// and as dead where what still arrives is below this share of every conductor's quantity (this project's
// choice).
inline constexpr double stray_share = 0.02;

// Whether these currents drive the core of this CT past its knee, where the linear answer ends.
[[nodiscard]] bool past_knee(Network const& network, NetworkSeen const& solved, std::size_t ct,
                             plan::SourcePhasors const& u, Currents const& j);
[[nodiscard]] bool past_knee(Network const& network, NetworkSeen const& solved, plan::SourcePhasors const& u,
                             Currents const& j);  // of any CT

}  // namespace phasewright::wiring
