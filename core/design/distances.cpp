#include "core/design/distances.hpp"

#include <cmath>
#include <limits>
#include <queue>

namespace phasewright::design {

namespace {
constexpr double infinite = std::numeric_limits<double>::infinity();
}

Distances::Distances(plan::Site const& site) {
    for (auto const& panel : site.panels) {
        index_.emplace(panel.id, places_.size());
        places_.push_back(panel.place);
    }
    ways_.resize(places_.size());
    for (auto const& run : site.runs) {
        auto const from = index_.find(run.from);
        auto const to = index_.find(run.to);
        if (from == index_.end() || to == index_.end()) continue;
        ways_[from->second].push_back({to->second, run.length_m});
        ways_[to->second].push_back({from->second, run.length_m});
    }
}

// Dijkstra's shortest paths from one panel, kept.
std::vector<double> const& Distances::over_runs(std::size_t from) {
    if (auto const found = known_.find(from); found != known_.end()) return found->second;
    std::vector<double> metres(places_.size(), infinite);
    using Open = std::pair<double, std::size_t>;
    std::priority_queue<Open, std::vector<Open>, std::greater<>> open;
    metres[from] = 0.0;
    open.emplace(0.0, from);
    while (!open.empty()) {
        auto const [so_far, at] = open.top();
        open.pop();
        if (so_far > metres[at]) continue;
        for (auto const& way : ways_[at]) {
            if (so_far + way.metres >= metres[way.to]) continue;
            metres[way.to] = so_far + way.metres;
            open.emplace(metres[way.to], way.to);
        }
    }
    return known_.emplace(from, std::move(metres)).first->second;
}

std::optional<double> Distances::metres(std::string const& from, std::string const& to) {
    if (from == to) return 0.0;
    auto const one = index_.find(from);
    auto const other = index_.find(to);
    if (one == index_.end() || other == index_.end()) return std::nullopt;
    if (!ways_[one->second].empty() && !ways_[other->second].empty()) {
        double const walked = over_runs(one->second)[other->second];
        if (std::isfinite(walked)) return walked;
    }
    auto const& a = places_[one->second];
    auto const& b = places_[other->second];
    if (!a || !b) return std::nullopt;
    return std::abs(a->x_m - b->x_m) + std::abs(a->y_m - b->y_m) + std::abs(a->z_m - b->z_m);
}

}  // namespace phasewright::design
