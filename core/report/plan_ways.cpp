#include "core/report/plan_ways.hpp"

#include <algorithm>
#include <cctype>

#include "core/report/plan_papers.hpp"

namespace phasewright::report {

namespace {

bool digit(char c) { return c >= '0' && c <= '9'; }

std::string panel_name(plan::Panel const& panel) { return panel.name.empty() ? panel.id : panel.name; }

std::vector<plan::Conductor> conductors_of(plan::MeteringPoint const& point) {
    auto const model = plan::model_of(point.service, point.model_options);
    auto all = model.live;
    if (model.has_neutral) all.push_back(plan::Conductor::n);
    return all;
}

PlannedWay& way_named(std::vector<PlannedWay>& ways, std::string const& name) {
    for (auto& way : ways)
        if (way.way == name && !name.empty()) return way;
    return ways.emplace_back(PlannedWay{.way = name});
}

void put_point(std::vector<PlannedWay>& ways, plan::MeteringPoint const& point) {
    auto const& branches = point.model_options.branches;
    bool const separate =
        std::ranges::any_of(branches, [](auto const& branch) { return !branch.way.empty(); });
    auto const put = [&](std::string const& name, std::string const& branch,
                         std::vector<plan::Conductor> conductors) {
        auto& way = way_named(ways, name);
        way.point = &point;
        way.branch = branch;
        if (way.name.empty()) way.name = point.name.empty() ? point.id : point.name;
        if (!way.breaker_a) way.breaker_a = point.breaker_a;
        if (way.conductors.empty()) way.conductors = std::move(conductors);
    };
    if (!separate) {
        put(point.way, "", conductors_of(point));
        return;
    }
    for (auto const& branch : branches) put(branch.way, branch.id, {branch.phase, plan::Conductor::n});
}

}  // namespace

bool ways_in_order(std::string_view one, std::string_view other) {
    std::size_t a = 0, b = 0;
    while (a < one.size() && b < other.size()) {
        if (!digit(one[a]) || !digit(other[b])) {
            if (one[a] != other[b]) return one[a] < other[b];
            ++a;
            ++b;
            continue;
        }
        auto const number = [](std::string_view text, std::size_t& at) {
            while (at < text.size() && text[at] == '0') ++at;
            auto const from = at;
            while (at < text.size() && digit(text[at])) ++at;
            return text.substr(from, at - from);
        };
        auto const m = number(one, a), n = number(other, b);
        if (m.size() != n.size()) return m.size() < n.size();
        if (m != n) return m < n;
    }
    return one.size() - a < other.size() - b;
}

plan::MeteringPoint const* incoming_point(plan::Site const& site, plan::Panel const& panel) {
    for (auto const& point : site.points) {
        if (point.panel != panel.id) continue;
        auto const under = std::ranges::count_if(site.points, [&](auto const& other) {
            return other.panel == panel.id && other.parent == point.id;
        });
        if (under > 0) return &point;
    }
    return nullptr;
}

std::vector<PlannedWay> ways_of(plan::Site const& site, plan::Panel const& panel,
                                plan::MeteringPoint const* incoming) {
    std::vector<PlannedWay> ways;
    for (auto const& way : panel.ways) {
        if (incoming != nullptr && way.id == incoming->way) continue;
        ways.push_back(
            {.way = way.id, .conductors = way.conductors, .breaker_a = way.breaker_a, .name = way.name});
    }
    for (auto const& point : site.points)
        if (point.panel == panel.id && &point != incoming) put_point(ways, point);
    for (auto const& other : site.panels) {
        if (other.fed_from != panel.id) continue;
        auto& way = way_named(ways, other.fed_from_way);
        way.feeds = panel_name(other);
        if (way.name.empty()) way.name = way.feeds;
        if (!way.breaker_a) way.breaker_a = other.breaker_a;
    }
    std::ranges::stable_sort(
        ways, [](auto const& one, auto const& other) { return ways_in_order(one.way, other.way); });
    return ways;
}

}  // namespace phasewright::report
