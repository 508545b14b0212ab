#include "core/checks/connection_graph.hpp"

#include <algorithm>
#include <deque>
#include <limits>
#include <unordered_map>

namespace phasewright::checks {
namespace {
constexpr auto none = std::numeric_limits<std::size_t>::max();

std::size_t other_end(Edge const& edge, std::size_t node) { return edge.from == node ? edge.to : edge.from; }

using Neighbours = std::vector<std::vector<std::size_t>>;  // the edges at each node

Neighbours edges_at(std::size_t nodes, std::vector<Edge> const& edges) {
    Neighbours at(nodes);
    for (std::size_t k = 0; k < edges.size(); ++k) {
        at[edges[k].from].push_back(k);
        if (edges[k].to != edges[k].from) at[edges[k].to].push_back(k);
    }
    return at;
}

// Tarjan's walk with a stack of its own: a plan may be a chain ten thousand meters long.
class Components {
public:
    Components(std::size_t nodes, std::vector<Edge> const& edges)
        : edges_(edges), at_(edges_at(nodes, edges)), seen_(nodes, 0), low_(nodes, 0) {
        for (std::size_t node = 0; node < nodes; ++node)
            if (seen_[node] == 0) walk(node);
    }
    std::vector<std::vector<std::size_t>> found;

private:
    struct Step {
        std::size_t node, came_by, next;
    };

    void walk(std::size_t root) {
        std::vector<Step> path{{root, none, 0}};
        enter(root);
        while (!path.empty()) {
            auto& step = path.back();
            if (step.next < at_[step.node].size()) {
                auto const edge = at_[step.node][step.next++];
                take(edge, step, path);
            } else {
                auto const done = step;
                path.pop_back();
                if (!path.empty()) leave(path.back().node, done);
            }
        }
    }
    void enter(std::size_t node) { seen_[node] = low_[node] = ++clock_; }

    void take(std::size_t edge, Step const& step, std::vector<Step>& path) {
        auto const node = step.node;
        if (edge == step.came_by) return;
        auto const there = other_end(edges_[edge], node);
        if (there == node) {
            found.push_back(
                {edge});  // joined to itself; no such edge is built, and it would be a loop of its own
        } else if (seen_[there] == 0) {
            stack_.push_back(edge);
            enter(there);
            path.push_back({there, edge, 0});
        } else if (seen_[there] < seen_[node]) {
            stack_.push_back(edge);
            low_[node] = std::min(low_[node], seen_[there]);
        }
    }
    void leave(std::size_t parent, Step const& done) {
        low_[parent] = std::min(low_[parent], low_[done.node]);
        if (low_[done.node] < seen_[parent]) return;
        std::vector<std::size_t> component;
        while (true) {
            component.push_back(stack_.back());
            stack_.pop_back();
            if (component.back() == done.came_by) break;
        }
        if (component.size() > 1) found.push_back(std::move(component));
    }

    std::vector<Edge> const& edges_;
    Neighbours at_;
    std::vector<std::size_t> seen_, low_, stack_;
    std::size_t clock_ = 0;
};

// The shortest way from one end of `first` to its other within the component, and `first` in front of it.
std::vector<std::size_t> cycle_through(std::size_t first, std::vector<std::size_t> const& component,
                                       std::vector<Edge> const& edges) {
    std::unordered_map<std::size_t, std::vector<std::size_t>> at;
    for (auto const edge : component) {
        at[edges[edge].from].push_back(edge);
        at[edges[edge].to].push_back(edge);
    }
    std::unordered_map<std::size_t, std::size_t> came_by{{edges[first].to, none}};
    std::deque<std::size_t> open{edges[first].to};
    while (!open.empty() && !came_by.contains(edges[first].from)) {
        auto const node = open.front();
        open.pop_front();
        for (auto const edge : at[node])
            if (edge != first && came_by.emplace(other_end(edges[edge], node), edge).second)
                open.push_back(other_end(edges[edge], node));
    }
    std::vector<std::size_t> cycle;
    for (auto node = edges[first].from; node != edges[first].to;) {
        auto const edge = came_by.at(node);
        cycle.push_back(edge);
        node = other_end(edges[edge], node);
    }
    cycle.push_back(first);
    std::ranges::reverse(cycle);  // first, then from its `to` back to its `from`
    return cycle;
}
}  // namespace

std::vector<Loop> loops_in(std::size_t nodes, std::vector<Edge> const& edges) {
    std::vector<Loop> loops;
    for (auto& component : Components(nodes, edges).found) {
        std::ranges::sort(component);
        auto const winding =
            std::ranges::find(component, EdgeKind::winding, [&](auto edge) { return edges[edge].kind; });
        bool const driven = winding != component.end();
        auto const first = driven ? *winding : component.front();
        auto cycle = component.size() == 1 ? component : cycle_through(first, component, edges);
        loops.push_back({std::move(cycle), std::move(component), driven});
    }
    std::ranges::sort(loops, {}, [](Loop const& loop) { return loop.edges.front(); });
    return loops;
}

std::vector<std::size_t> nodes_along(std::vector<Edge> const& edges, std::vector<std::size_t> const& cycle) {
    std::vector<std::size_t> nodes;
    if (cycle.empty()) return nodes;
    auto node = edges[cycle.front()].from;
    for (auto const edge : cycle) {
        nodes.push_back(node);
        node = other_end(edges[edge], node);
    }
    return nodes;
}

}  // namespace phasewright::checks
