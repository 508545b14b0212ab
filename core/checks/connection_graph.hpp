// Supplies and communications commons as a graph, and the loops in it.
//   nodes   the two poles of every control supply; the common of every serial line
//   edges   a winding: between the poles of one supply, with its voltage in it
//           a tie: a meter (or the supply itself) that joins one pole with the common of its line inside
// Two ties from one pole to one common are a loop that carries what the wires drop. Ties from both poles to
// one common short the supply through the communications wires: that happens when one of two meters on a
// shared ac supply is landed the other way round. A loop is a cycle; each edge belongs to exactly one
// biconnected component, and a component with more than one edge is made of cycles (Tarjan 1972). So all
// loops are found in one walk over the graph, however many supplies hang in it, and one short cycle of each
// is given for people to follow.
#pragma once
#include <cstddef>
#include <string>
#include <vector>

namespace phasewright::checks {

enum class EdgeKind { winding, tie };
struct Edge {
    std::size_t from = 0, to = 0;  // nodes
    EdgeKind kind = EdgeKind::tie;
    std::size_t about = 0;  // for the caller: which supply, which meter
};

struct Loop {
    std::vector<std::size_t> cycle;  // edges, one after the other; through a winding where there is one
    std::vector<std::size_t> edges;  // of the whole component
    bool driven = false;             // a winding is in it
};

// In the order of their first edge.
[[nodiscard]] std::vector<Loop> loops_in(std::size_t nodes, std::vector<Edge> const& edges);

// The nodes that a cycle passes, beginning where its first edge does: as many as edges.
[[nodiscard]] std::vector<std::size_t> nodes_along(std::vector<Edge> const& edges,
                                                   std::vector<std::size_t> const& cycle);

}  // namespace phasewright::checks
