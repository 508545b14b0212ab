// The equations for the unknown node potentials x and branch currents y (docs/physics/network.md, 1 to 3):
//     at a node       sum of Y x + sum of y leaving = injected current      (cores, capacitors)
//     on a branch     x_p - x_q - Z y = -E                                  (everything with a resistance)
//     at a conductor  x = U
// Resistances keep their own row, their current its own unknown: milliohms beside megohms cost no digits.
#include "core/wiring/network.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <Eigen/LU>

namespace phasewright::wiring {
namespace {

using Complex = std::complex<double>;
using Index = Eigen::Index;
constexpr Index earth_node = -1;
constexpr Index sides = 7;  // right-hand sides: U_a U_b U_c U_n J_a J_b J_c
constexpr Index first_current = 4;

// Nodes in order: conductors, voltage terminals, neutral terminal, star point, three a CT, two an input.
class Nodes {
public:
    Nodes(Network const& network, plan::ServiceModel const& model)
        : neutral_{4 + static_cast<Index>(model.terminals.size())},
          first_ct_{neutral_ + 2},
          first_input_{first_ct_ + 3 * static_cast<Index>(network.cts.size())},
          count_{first_input_ + 2 * static_cast<Index>(network.inputs.size())} {}

    [[nodiscard]] Index of(Point point) const {
        Index const at = point.at;
        switch (point.place) {
            case Place::earth: return earth_node;
            case Place::conductor: return at;
            case Place::voltage_terminal: return 4 + at;
            case Place::neutral_terminal: return neutral_;
            case Place::star_point: return neutral_ + 1;
            case Place::ct_s1: return first_ct_ + 3 * at;
            case Place::ct_s2: return first_ct_ + 3 * at + 1;
            case Place::input_s1: return first_input_ + 2 * at;
            case Place::input_s2: return first_input_ + 2 * at + 1;
        }
        return earth_node;
    }
    // Behind the winding's resistance.
    [[nodiscard]] Index core(Index ct) const { return first_ct_ + 3 * ct + 2; }
    [[nodiscard]] Index count() const { return count_; }

private:
    Index neutral_;
    Index first_ct_;
    Index first_input_;
    Index count_;
};

struct Branch {
    Index from;
    Index to;
    Complex ohm;
    int emf_of = -1;  // the coil whose induced voltage drives from `from` to `to`
};
struct Admittance {
    Index from;
    Index to;
    Complex siemens;
};
struct Circuit {
    std::vector<Branch> branches;  // the current inputs first
    std::vector<Admittance> admittances;
};

double angular(Network const& network) { return 2.0 * std::numbers::pi * network.hz; }

void add_source(Circuit& circuit, Nodes const& nodes, Network const& network, int k) {
    auto const& ct = network.cts[static_cast<std::size_t>(k)];
    Index const s1 = nodes.of({Place::ct_s1, k});
    Index const s2 = nodes.of({Place::ct_s2, k});
    Complex const winding{ct.winding_ohm, angular(network) * ct.winding_h};
    if (ct.output == plan::CtOutput::coil) {
        circuit.branches.push_back({s2, s1, winding, k});
    } else {
        circuit.branches.push_back({nodes.core(k), s1, winding});
        circuit.admittances.push_back({nodes.core(k), s2, ct.magnetising_s});
    }
    if (ct.internal_burden_ohm > 0.0) circuit.branches.push_back({s1, s2, ct.internal_burden_ohm});
}

Circuit circuit_of(Network const& network, Nodes const& nodes) {
    Circuit circuit;
    for (int k = 0; k < static_cast<int>(network.inputs.size()); ++k)
        circuit.branches.push_back({nodes.of({Place::input_s1, k}), nodes.of({Place::input_s2, k}),
                                    network.inputs[static_cast<std::size_t>(k)].ohm});
    for (int k = 0; k < static_cast<int>(network.cts.size()); ++k) add_source(circuit, nodes, network, k);
    for (auto const& lead : network.leads)
        if (lead.to)
            circuit.branches.push_back(
                {nodes.of({lead.end == CtEnd::s1 ? Place::ct_s1 : Place::ct_s2, lead.ct}), nodes.of(*lead.to),
                 lead.ohm});
    for (auto const& link : network.links)
        if (link.closed)
            circuit.branches.push_back({nodes.of(link.from), nodes.of(link.to), link.contact_ohm});
    for (auto const& earth : network.earths)
        circuit.branches.push_back({nodes.of(earth.at), earth_node, earth.ohm});
    for (auto const& tap : network.taps)
        if (tap.to && !tap.blown)
            circuit.branches.push_back({static_cast<Index>(tap.from), nodes.of(*tap.to), tap.fuse_ohm});
    for (auto const& shunt : network.shunts)
        circuit.branches.push_back({nodes.of(shunt.from), nodes.of(shunt.to), shunt.ohm});
    for (auto const& stray : network.strays)
        circuit.admittances.push_back(
            {nodes.of(stray.from), nodes.of(stray.to), Complex{0.0, angular(network) * stray.farad}});
    return circuit;
}

// Which nodes hang together. Earth is the last entry; the four conductors are tied to it by their sources.
class Islands {
public:
    explicit Islands(Index nodes) : root_(static_cast<std::size_t>(nodes) + 1) {
        for (std::size_t k = 0; k < root_.size(); ++k) root_[k] = k;
    }
    void join(Index p, Index q) { root_[find(place(p))] = find(place(q)); }
    [[nodiscard]] bool together(Index p, Index q) { return find(place(p)) == find(place(q)); }

private:
    [[nodiscard]] std::size_t place(Index node) const {
        return node == earth_node ? root_.size() - 1 : static_cast<std::size_t>(node);
    }
    std::size_t find(std::size_t at) {
        while (root_[at] != at) at = root_[at] = root_[root_[at]];
        return at;
    }
    std::vector<std::size_t> root_;
};

struct System {
    Eigen::MatrixXcd left;
    Eigen::MatrixXcd right;
};

void stamp(System& system, Admittance const& part) {
    for (auto const& [here, there] : {std::pair{part.from, part.to}, std::pair{part.to, part.from}}) {
        if (here == earth_node) continue;
        system.left(here, here) += part.siemens;
        if (there != earth_node) system.left(here, there) -= part.siemens;
    }
}

void stamp(System& system, Branch const& branch, Index row) {
    if (branch.from != earth_node) {
        system.left(branch.from, row) += 1.0;
        system.left(row, branch.from) += 1.0;
    }
    if (branch.to != earth_node) {
        system.left(branch.to, row) -= 1.0;
        system.left(row, branch.to) -= 1.0;
    }
    system.left(row, row) -= branch.ohm;
}

// Seven right-hand sides: what a unit on each conductor injects.
void drive(System& system, Network const& network, Nodes const& nodes, Circuit const& circuit) {
    for (int k = 0; k < static_cast<int>(network.cts.size()); ++k) {
        auto const& ct = network.cts[static_cast<std::size_t>(k)];
        if (ct.output == plan::CtOutput::coil) continue;
        for (Index c = 0; c < 3; ++c) {
            double const ampere = ct.through_window[static_cast<std::size_t>(c)] / ct.turns;
            system.right(nodes.core(k), first_current + c) += ampere;
            system.right(nodes.of({Place::ct_s2, k}), first_current + c) -= ampere;
        }
    }
    for (std::size_t b = 0; b < circuit.branches.size(); ++b) {
        if (circuit.branches[b].emf_of < 0) continue;
        auto const& coil = network.cts[static_cast<std::size_t>(circuit.branches[b].emf_of)];
        for (Index c = 0; c < 3; ++c)
            system.right(nodes.count() + static_cast<Index>(b), first_current + c) -= Complex{
                0.0, angular(network) * coil.mutual_h * coil.through_window[static_cast<std::size_t>(c)]};
    }
}

System system_of(Network const& network, Nodes const& nodes, Circuit const& circuit) {
    Index const size = nodes.count() + static_cast<Index>(circuit.branches.size());
    System system{Eigen::MatrixXcd::Zero(size, size), Eigen::MatrixXcd::Zero(size, sides)};
    Islands islands{nodes.count()};
    for (auto const& part : circuit.admittances) {
        stamp(system, part);
        islands.join(part.from, part.to);
    }
    for (std::size_t b = 0; b < circuit.branches.size(); ++b) {
        stamp(system, circuit.branches[b], nodes.count() + static_cast<Index>(b));
        islands.join(circuit.branches[b].from, circuit.branches[b].to);
    }
    drive(system, network, nodes, circuit);
    for (Index conductor = 0; conductor < 4; ++conductor) {
        system.left.row(conductor).setZero();
        system.left(conductor, conductor) = 1.0;
        system.right.row(conductor).setZero();
        system.right(conductor, conductor) = 1.0;
        islands.join(conductor, earth_node);
    }
    for (Index node = 4; node < nodes.count(); ++node) {
        if (islands.together(node, earth_node)) continue;
        system.left(node, node) += 1.0;
        islands.join(node, earth_node);
    }
    return system;
}

Response response_of(Eigen::RowVectorXcd const& row) {
    Response response;
    for (Index c = 0; c < 4; ++c) response.of_voltages[static_cast<std::size_t>(c)] = row(c);
    for (Index c = 0; c < 3; ++c) response.of_currents[static_cast<std::size_t>(c)] = row(first_current + c);
    return response;
}

template <class Row>
double largest(Row const& row) {
    double most = 0.0;
    for (auto const& entry : row) most = std::max(most, std::abs(entry));
    return most;
}

bool has_tap(Network const& network, int terminal) {
    return std::ranges::any_of(network.taps, [&](Tap const& tap) {
        return !tap.blown && tap.to == Point{Place::voltage_terminal, terminal};
    });
}

Index minus_node(Nodes const& nodes, plan::ElementPlan const& element) {
    if (element.minus == plan::to_neutral_terminal) return nodes.of({Place::neutral_terminal, 0});
    if (element.minus == plan::to_star_point) return nodes.of({Place::star_point, 0});
    return nodes.of({Place::voltage_terminal, element.minus});
}

void fill_elements(NetworkSeen& solved, Network const& network, plan::ServiceModel const& model,
                   Nodes const& nodes, Eigen::MatrixXcd const& x) {
    auto& seen = solved.seen;
    seen.elements = model.elements.size();
    for (std::size_t k = 0; k < seen.elements; ++k) {
        auto const& element = model.elements[k];
        solved.element_v.push_back(response_of(x.row(nodes.of({Place::voltage_terminal, element.plus})) -
                                               x.row(minus_node(nodes, element))));
        seen.voltage[k] = solved.element_v[k].of_voltages;
        seen.voltage_lost[k] = !has_tap(network, element.plus) && largest(seen.voltage[k]) < stray_share;
        if (element.current_input == plan::derived_current) continue;
        auto const input = static_cast<std::size_t>(element.current_input);
        for (std::size_t c = 0; c < 3; ++c)
            seen.current[k][c] =
                network.inputs[input].displayed_per_ampere * solved.input_a[input].of_currents[c];
        seen.current_dead[k] = largest(seen.current[k]) < stray_share;
    }
    for (std::size_t k = 0; k < seen.elements; ++k) {
        if (model.elements[k].current_input != plan::derived_current) continue;
        for (std::size_t other = 0; other < seen.elements; ++other)
            if (other != k)
                for (std::size_t c = 0; c < 3; ++c) seen.current[k][c] -= seen.current[other][c];
    }
}

quantity::Fault no_solution() {
    return {.what = "the secondary network has no single solution",
            .where = "network",
            .found = "parts that resonate, or values too far apart for sixteen digits",
            .allowed = "resistances and capacitances as panels have them",
            .remedy = "look for a unit that is wrong by powers of ten"};
}

}  // namespace

std::complex<double> at(Response const& response, plan::SourcePhasors const& u, Currents const& j) {
    Complex sum = 0.0;
    for (std::size_t c = 0; c < u.size(); ++c) sum += response.of_voltages[c] * u[c];
    for (std::size_t c = 0; c < j.size(); ++c) sum += response.of_currents[c] * j[c];
    return sum;
}

std::expected<NetworkSeen, quantity::Fault> solve(Network const& network, plan::ServiceModel const& model) {
    if (auto fault = fault_in(network, model)) return std::unexpected{std::move(*fault)};
    Nodes const nodes{network, model};
    auto const circuit = circuit_of(network, nodes);
    auto const system = system_of(network, nodes, circuit);
    Eigen::MatrixXcd const x = system.left.partialPivLu().solve(system.right);
    if (!x.allFinite()) return std::unexpected{no_solution()};
    double const rest = (system.left * x - system.right).cwiseAbs().maxCoeff();
    double const size = (system.left.cwiseAbs() * x.cwiseAbs()).maxCoeff();
    if (rest > 1e-9 * size) return std::unexpected{no_solution()};

    NetworkSeen solved;
    for (std::size_t k = 0; k < network.inputs.size(); ++k)
        solved.input_a.push_back(response_of(x.row(nodes.count() + static_cast<Index>(k))));
    for (int k = 0; k < static_cast<int>(network.cts.size()); ++k) {
        auto const& ct = network.cts[static_cast<std::size_t>(k)];
        Index const s2 = nodes.of({Place::ct_s2, k});
        CtSolved of_ct{.terminal_v = response_of(x.row(nodes.of({Place::ct_s1, k})) - x.row(s2))};
        if (ct.output != plan::CtOutput::coil)
            of_ct.exciting_a = response_of(ct.magnetising_s * (x.row(nodes.core(k)) - x.row(s2)));
        solved.ct.push_back(of_ct);
    }
    fill_elements(solved, network, model, nodes, x);
    return solved;
}

bool past_knee(Network const& network, NetworkSeen const& solved, std::size_t ct,
               plan::SourcePhasors const& u, Currents const& j) {
    auto const& source = network.cts[ct];
    return std::abs(at(solved.ct[ct].exciting_a, u, j)) > source.knee_share * source.rated_secondary_a;
}

bool past_knee(Network const& network, NetworkSeen const& solved, plan::SourcePhasors const& u,
               Currents const& j) {
    for (std::size_t k = 0; k < network.cts.size(); ++k)
        if (past_knee(network, solved, k, u, j)) return true;
    return false;
}

}  // namespace phasewright::wiring
