// Loops through the communications common (core/checks/connection_graph.hpp). A meter whose electronics are
// not isolated from its bus joins one pole of its supply with the common of its line; where two such meters
// share a supply and one is landed the other way round, the supply is shorted through the bus.
#include <algorithm>
#include <array>
#include <unordered_map>

#include "core/checks/connection_graph.hpp"
#include "core/checks/notes.hpp"
#include "core/checks/rule.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::checks {
namespace {

struct Network {
    std::size_t supplies = 0;
    std::vector<Edge> edges;
    std::vector<AtPoint const*> meters;  // of each edge; null: the winding, or the supply's own tie
    std::size_t nodes = 0;
};

Network network_of(Ground const& ground) {
    std::unordered_map<plan::SerialLine const*, std::size_t> commons;
    for (auto const& line : ground.lines)
        commons.emplace(line.line, 2 * ground.supplies.size() + commons.size());
    Network network{.supplies = ground.supplies.size(), .nodes = 2 * ground.supplies.size() + commons.size()};
    auto const join = [&](Edge const& edge, AtPoint const* meter) {
        network.edges.push_back(edge);
        network.meters.push_back(meter);
    };
    for (std::size_t k = 0; k < ground.supplies.size(); ++k) {
        auto const& on = ground.supplies[k];
        if (on.meters.empty()) continue;
        join({2 * k, 2 * k + 1, EdgeKind::winding, k}, nullptr);
        std::unordered_map<plan::SerialLine const*, bool> done;
        for (auto const* at : on.meters) {
            if (at->line == nullptr) continue;
            auto const common = commons.at(at->line);
            if (on.supply->tied_to_bus_common.value_or(false) && done.emplace(at->line, true).second)
                join({2 * k + 1, common, EdgeKind::tie, k}, nullptr);
            if (!is_tied_to_common(*at)) continue;
            bool const crossed = at->point->supply->polarity == plan::Polarity::crossed;
            join({crossed ? 2 * k : 2 * k + 1, common, EdgeKind::tie, k}, at);
        }
    }
    return network;
}

std::string node_words(std::size_t node, Ground const& ground) {
    if (node >= 2 * ground.supplies.size())
        return "common of " + ground.lines[node - 2 * ground.supplies.size()].line->id;
    auto const& supply = *ground.supplies[node / 2].supply;
    bool const first = node % 2 == 0;
    if (supply.kind == plan::CurrentKind::dc)
        return std::string(first ? "plus" : "minus") + " of " + supply.id;
    return std::string(first ? "first" : "second") + " pole of " + supply.id;
}

std::string edge_words(std::size_t edge, Network const& network) {
    if (network.edges[edge].kind == EdgeKind::winding) return "its winding";
    if (network.meters[edge] == nullptr) return "tie at the supply";
    return network.meters[edge]->point->id +
           (network.meters[edge]->point->supply->polarity == plan::Polarity::crossed ? ", crossed" : "");
}

// "second pole of aux -> (meter-2) -> common of line-1 -> ... -> second pole of aux"
std::string cycle_words(Loop const& loop, Network const& network, Ground const& ground) {
    constexpr std::size_t most = 12;  // steps that are told one by one
    auto const nodes = nodes_along(network.edges, loop.cycle);
    std::string words;
    for (std::size_t k = 0; k < nodes.size(); ++k) {
        if (k >= most && k + 2 < nodes.size()) {
            if (k == most) words += "... -> ";
            continue;
        }
        words += node_words(nodes[k], ground) + " -> (" + edge_words(loop.cycle[k], network) + ") -> ";
    }
    return words + node_words(nodes.front(), ground);
}

std::vector<Place> places_of(Loop const& loop, Network const& network, Ground const& ground) {
    std::vector<Place> places;
    std::vector<bool> told(ground.supplies.size(), false);
    for (auto const edge : loop.edges)
        if (auto const about = network.edges[edge].about; !told[about]) {
            told[about] = true;
            places.push_back({PlaceKind::supply, ground.supplies[about].supply->id});
        }
    for (auto const edge : loop.edges)
        if (network.meters[edge] != nullptr) places.push_back(at_point(*network.meters[edge]));
    return places;
}

struct Loops {
    Network network;
    std::vector<Loop> found;
};
Loops loops_of(Ground const& ground) {
    Loops loops{.network = network_of(ground), .found = {}};
    loops.found = loops_in(loops.network.nodes, loops.network.edges);
    return loops;
}

void look_at_shorts(Ground const& ground, Notes& notes) {
    auto const [network, found] = loops_of(ground);
    for (auto const& loop : found) {
        if (!loop.driven) continue;
        double volts = 0.0;
        std::vector<std::string> of;
        for (auto const edge : loop.cycle)
            if (network.edges[edge].kind == EdgeKind::winding) {
                auto const& supply = *ground.supplies[network.edges[edge].about].supply;
                volts = std::max(volts, supply.volts);
                of.push_back(figure(supply.volts) + " V " + std::string(plan::name_of(supply.kind)) + " of " +
                             supply.id);
            }
        notes.add({.places = places_of(loop, network, ground),
                   .what = "the supply is shorted through the communications common: " +
                           cycle_words(loop, network, ground) + "; " + quantity::joined(of, " and ") +
                           " drive it",
                   .value = volts,
                   .limit = 0.0,
                   .unit = "V"});
    }
}

void look_at_loops(Ground const& ground, Notes& notes) {
    auto const [network, found] = loops_of(ground);
    for (auto const& loop : found) {
        if (loop.driven) continue;
        notes.add({.places = places_of(loop, network, ground),
                   .what = std::to_string(loop.edges.size()) +
                           " ties close a ground loop: " + cycle_words(loop, network, ground) +
                           "; what the supply wires drop drives a current through the common"});
    }
}

constexpr std::array rules{
    Rule{.id = "ground-loop.short",
         .title = "a supply is shorted through the communications common of its meters",
         .severity = Severity::stop,
         .source = {"derived", "", "a cycle of supply poles and commons with a winding in it",
                    plan::Footing::derived},
         .remedy = "land every meter on the supply alike, or give one of them a supply of its own, or "
                   "isolate its bus; measure between "
                   "the commons before they are joined",
         .caution = "Leave supply and bus unconnected: the short circuit runs through bus wires and meters, "
                    "and can burn them.",
         .look = look_at_shorts},
    Rule{.id = "ground-loop.loop",
         .title = "several ties between a supply and the communications common close a loop",
         .severity = Severity::mind,
         .source = {"derived", "", "a cycle of supply poles and commons", plan::Footing::derived},
         .remedy =
             "one tie only where it can be had: isolated meters, an isolating repeater, or a supply each",
         .look = look_at_loops},
};
}  // namespace

std::span<Rule const> ground_loop_rules() { return rules; }

}  // namespace phasewright::checks
