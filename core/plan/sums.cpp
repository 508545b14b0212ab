#include "core/plan/sums.hpp"

#include <algorithm>
#include <map>
#include <set>

namespace phasewright::plan {

std::vector<std::string> children_of(std::vector<MeteringPoint> const& points, std::string_view id) {
    std::vector<std::string> children;
    for (auto const& point : points)
        if (!id.empty() && point.parent == id) children.push_back(point.id);
    return children;
}

std::vector<std::string> ring_of_parents(std::vector<MeteringPoint> const& points) {
    std::map<std::string_view, std::string_view> parent;
    for (auto const& point : points)
        if (!point.parent.empty()) parent.emplace(point.id, point.parent);
    std::set<std::string_view> leads_nowhere;
    for (auto const& point : points) {
        std::vector<std::string> chain;
        std::string_view at = point.id;
        while (!leads_nowhere.contains(at)) {
            auto const seen = std::ranges::find(chain, at);
            if (seen != chain.end()) return {seen, chain.end()};
            chain.emplace_back(at);
            auto const next = parent.find(at);
            if (next == parent.end()) break;
            at = next->second;
        }
        for (auto const& id : chain)
            if (auto const own = std::ranges::find(points, id, &MeteringPoint::id); own != points.end())
                leads_nowhere.insert(own->id);
    }
    return {};
}

}  // namespace phasewright::plan
