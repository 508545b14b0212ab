#include "core/checks/ground.hpp"

#include <algorithm>

namespace phasewright::checks {

bool is_tied_to_common(AtPoint const& at) {
    if (at.point->supply && at.point->supply->tied_to_bus_common)
        return *at.point->supply->tied_to_bus_common;
    auto const* const hardware = at.hardware();
    return hardware != nullptr && hardware->supply && !hardware->supply->isolated_from_bus;
}

int OnLine::last_position() const {
    int last = 0;
    for (auto const* meter : meters) last = std::max(last, meter->point->address.position);
    return last;
}

Ground::Ground(plan::Site const& whole, MeterLibrary const& meters, Limits const& set)
    : site(whole), limits(set) {
    std::unordered_map<std::string_view, std::size_t> line_at;
    std::unordered_map<std::string_view, std::size_t> supply_at;
    std::unordered_map<std::string_view, std::unordered_map<std::string_view, plan::Way const*>> ways;
    for (auto const& panel : site.panels) {
        panels_by_id_.emplace(panel.id, panels.size());
        panels.push_back({&panel, {}});
        for (auto const& way : panel.ways) ways[panel.id].emplace(way.id, &way);
    }
    for (auto const& line : site.serial_lines) {
        line_at.emplace(line.id, lines.size());
        lines.push_back({&line, {}});
    }
    for (auto const& supply : site.supplies) {
        supply_at.emplace(supply.id, supplies.size());
        supplies.push_back({&supply, {}});
    }
    points.reserve(site.points.size());  // what follows keeps pointers into it
    for (auto const& point : site.points) {
        AtPoint at{.point = &point, .model = plan::model_of(point.service, point.model_options)};
        if (!point.to_choose.meter && !point.meter_profile.empty()) {
            auto [known, is_new] = facts_.try_emplace(point.meter_profile);
            if (is_new) known->second = meters(point.meter_profile);
            if (known->second) at.meter = &*known->second;
        }
        points_by_id_.emplace(point.id, points.size());
        points.push_back(std::move(at));
        auto& kept = points.back();
        if (auto const found = panels_by_id_.find(point.panel); found != panels_by_id_.end()) {
            kept.panel = panels[found->second].panel;
            panels[found->second].points.push_back(&kept);
            auto const& of_panel = ways[point.panel];
            if (auto const way = of_panel.find(point.way); way != of_panel.end()) kept.way = way->second;
        }
        if (auto const found = line_at.find(point.address.serial_line);
            found != line_at.end() && !point.to_choose.address) {
            kept.line = lines[found->second].line;
            lines[found->second].meters.push_back(&kept);
        }
        if (auto const found = point.supply ? supply_at.find(point.supply->supply) : supply_at.end();
            found != supply_at.end()) {
            kept.supply = supplies[found->second].supply;
            supplies[found->second].meters.push_back(&kept);
        }
    }
    auto const place = [](AtPoint const* at) {
        int const position = at->point->address.position;
        return position == 0 ? 1'000'000 : position;
    };
    for (auto& line : lines) std::ranges::stable_sort(line.meters, {}, place);
}

AtPoint const* Ground::point(std::string_view id) const {
    auto const found = points_by_id_.find(id);
    return found == points_by_id_.end() ? nullptr : &points[found->second];
}

std::optional<std::size_t> Ground::panel_index(std::string_view id) const {
    auto const found = panels_by_id_.find(id);
    return found == panels_by_id_.end() ? std::nullopt : std::optional(found->second);
}

plan::Panel const* Ground::panel(std::string_view id) const {
    auto const index = panel_index(id);
    return index ? panels[*index].panel : nullptr;
}

bool Ground::has_rule_text(std::string_view id) const { return plan::rule_of(site.region, id) != nullptr; }

std::string const& Ground::name(plan::Conductor conductor) const {
    return site.region.conductors.at(static_cast<std::size_t>(conductor));
}

}  // namespace phasewright::checks
