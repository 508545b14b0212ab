// The panel's own figures, its map of ways, and what the points say of them. By counting, odd poles on the
// left,
//   phase = floor((n - 1) / 2) mod 3, split phase mod 2 (common practice)
// and gear that counts otherwise exists: the map goes before what is counted, a voltmeter before both.
#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include "core/checks/notes.hpp"
#include "core/checks/rule.hpp"
#include "core/quantity/text.hpp"
#include "core/quantity/three_phase.hpp"

namespace phasewright::checks {
namespace {
using plan::Conductor;
using plan::Service;

std::optional<int> number_of(std::string const& id) {
    int number = 0;
    auto const [end, error] = std::from_chars(id.data(), id.data() + id.size(), number);
    if (error != std::errc{} || end != id.data() + id.size() || number < 1) return std::nullopt;
    return number;
}
int live_in(plan::Panel const& panel) {
    if (!panel.service) return 3;
    if (panel.service == Service::split_phase_three_wire || panel.service == Service::two_phases_of_wye)
        return 2;
    return panel.service == Service::one_phase_two_wire ? 1 : 3;
}
std::vector<Conductor> live_of(std::vector<Conductor> conductors) {
    std::erase(conductors, Conductor::n);
    return conductors;
}
std::string words_of(std::vector<Conductor> const& conductors, Ground const& ground) {
    std::vector<std::string> names;
    for (auto const conductor : conductors) names.push_back(ground.name(conductor));
    return quantity::joined(names, "-");
}

void look_at_map(Ground const& ground, Notes& notes) {
    for (auto const& in : ground.panels) {
        auto const& panel = *in.panel;
        if (!panel.numbering) continue;
        int const step = panel.numbering == plan::PoleNumbering::odd_left ? 2 : 1;
        for (auto const& way : panel.ways) {
            auto const first = number_of(way.id);
            auto const live = live_of(way.conductors);
            if (!first || live.empty()) continue;
            std::vector<Conductor> counted;
            for (std::size_t k = 0; k < live.size(); ++k)
                counted.push_back(plan::conductor_of_pole(*first + static_cast<int>(k) * step,
                                                          *panel.numbering, live_in(panel)));
            if (counted == live) continue;
            notes.add({.places = {at_panel(panel)},
                       .what = "way " + way.id + " is " + words_of(live, ground) + " by the map and " +
                               words_of(counted, ground) + " by counting"});
        }
    }
}

void look_at_branches(AtPoint const& at, Ground const& ground, Notes& notes) {
    for (auto const& branch : at.point->model_options.branches) {
        if (branch.to_choose) continue;
        auto const* const way = branch.way.empty() ? at.way : plan::way_of(*at.panel, branch.way);
        if (way == nullptr || way->conductors.empty()) continue;
        auto const live = live_of(way->conductors);
        if (std::ranges::find(live, branch.phase) != live.end()) continue;
        notes.add({.places = places_of(at),
                   .what = "load " + branch.id + " is planned on " + ground.name(branch.phase) +
                           ", and way " + way->id + " of the panel is " + words_of(live, ground)});
    }
}

void look_at_way_phases(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        if (at.panel == nullptr) continue;
        look_at_branches(at, ground, notes);
        bool const one_phase = at.point->service == Service::one_phase_two_wire;
        if (at.way == nullptr || at.way->conductors.empty() || one_phase) continue;
        auto const live = live_of(at.way->conductors);
        if (live.size() == at.model.live.size()) continue;
        notes.add({.places = places_of(at),
                   .what = std::string(plan::code_of(at.point->service)) + " has " +
                           std::to_string(at.model.live.size()) + " live conductors, and way " + at.way->id +
                           " of the panel is " + words_of(live, ground),
                   .value = static_cast<double>(live.size()),
                   .limit = static_cast<double>(at.model.live.size()),
                   .unit = "conductors"});
    }
}

void look_at_unknown_ways(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points)
        if (at.panel != nullptr && !at.panel->ways.empty() && !at.point->way.empty() && at.way == nullptr)
            notes.add({.places = places_of(at), .what = "the panel's map has no way " + at.point->way});
}

void look_at_breakers(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        if (at.way == nullptr || !at.way->breaker_a || !at.point->breaker_a ||
            *at.way->breaker_a == *at.point->breaker_a)
            continue;
        notes.add({.places = places_of(at),
                   .what = "its breaker is " + figure(*at.point->breaker_a) + " A here and " +
                           figure(*at.way->breaker_a) + " A on the panel's map, way " + at.way->id,
                   .value = at.point->breaker_a,
                   .limit = at.way->breaker_a,
                   .unit = "A"});
    }
}

void look_at_loads(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        auto const load = at.point->most_a ? at.point->most_a : at.point->usual_a;
        if (!load || !at.point->breaker_a || *load <= *at.point->breaker_a) continue;
        notes.add({.places = places_of(at),
                   .what = std::string(at.point->most_a ? "the highest" : "the usual") + " load of " +
                           figure(*load) + " A is above its breaker of " + figure(*at.point->breaker_a) +
                           " A",
                   .value = load,
                   .limit = at.point->breaker_a,
                   .unit = "A"});
    }
}

void look_at_voltages(Ground const& ground, Notes& notes) {
    for (auto const& in : ground.panels) {
        auto const& nominal = in.panel->nominal;
        if (nominal.v_ln <= 0.0 || nominal.v_ll <= 0.0) continue;
        double const ratio = nominal.v_ll / nominal.v_ln;
        auto const near = [&](double wanted) {
            return std::abs(ratio / wanted - 1.0) * 100.0 <= notes.limit();
        };
        bool const split = in.panel->service == Service::split_phase_three_wire ||
                           in.panel->service == Service::high_leg_delta;
        bool const said = in.panel->service.has_value();
        if (said ? near(split ? 2.0 : quantity::sqrt_of_3) : near(2.0) || near(quantity::sqrt_of_3)) continue;
        double const wanted = split ? 2.0 * nominal.v_ln : quantity::line_from_phase_v(nominal.v_ln);
        notes.add({.places = {at_panel(*in.panel)},
                   .what = figure(nominal.v_ll) + " V between lines and " + figure(nominal.v_ln) +
                           " V to the neutral do not belong together" +
                           (said ? " in " + std::string(plan::words_of(*in.panel->service)) : "") + ": " +
                           figure(wanted) + " V would",
                   .value = nominal.v_ll,
                   .limit = wanted,
                   .unit = "V"});
    }
}

void look_at_ring(Ground const& ground, Notes& notes) {
    enum class State : char { new_, on_the_way, done };
    std::vector<State> state(ground.panels.size(), State::new_);
    for (std::size_t start = 0; start < ground.panels.size(); ++start) {
        std::vector<std::size_t> path;
        std::optional<std::size_t> at = start;
        while (at && state[*at] == State::new_) {
            state[*at] = State::on_the_way;
            path.push_back(*at);
            at = ground.panel_index(ground.panels[*at].panel->fed_from);
        }
        if (at && state[*at] == State::on_the_way) {
            std::vector<std::string> ids;
            for (auto step = std::ranges::find(path, *at); step != path.end(); ++step)
                ids.push_back(ground.panels[*step].panel->id);
            notes.add({.places = {at_panel(*ground.panels[*at].panel)},
                       .what = "the feeds of panels lead back to it: " + named(ids)});
        }
        for (auto const step : path) state[step] = State::done;
    }
}

constexpr std::array rules{
    Rule{.id = "panel.pole-map",
         .title = "the map of a panel is not what counting its poles gives",
         .severity = Severity::mind,
         .source = {"common practice", "", "odd poles left, even ones right; or one row in turn",
                    plan::Footing::practice},
         .remedy = "measure the way against a known phase and keep what is found; not all gear counts alike",
         .look = look_at_map},
    Rule{.id = "panel.way-phases",
         .title = "a point's phases are not those of its way",
         .source = {"the plan", "", "point and panel's map", plan::Footing::derived},
         .remedy = "measure which phases the way touches, and correct the one that is wrong",
         .look = look_at_way_phases},
    Rule{.id = "panel.way-unknown",
         .title = "a point's way is not on the panel's map",
         .severity = Severity::mind,
         .source = {"the plan", "", "point and panel's map", plan::Footing::derived},
         .remedy = "add the way to the map, or correct the point",
         .look = look_at_unknown_ways},
    Rule{.id = "panel.breaker",
         .title = "point and panel's map disagree about a breaker",
         .source = {"the plan", "", "point and panel's map", plan::Footing::derived},
         .remedy = "read the breaker and correct the one that is wrong",
         .look = look_at_breakers},
    Rule{.id = "panel.load",
         .title = "a load is above its breaker",
         .source = {"IEC 60364-4-43", "", "433.1", plan::Footing::memory},
         .remedy = "correct load or breaker; what protects the circuit is for those who planned it",
         .look = look_at_loads},
    Rule{.id = "panel.voltages",
         .title = "the rated voltages of a panel do not belong together",
         .limit =
             RuleLimit{2.0, "%", "apart from sqrt(3), or from 2 for split phase and high-leg delta; at most"},
         .source = {"derived", "", "wye sqrt(3), split phase and mid-tapped delta 2", plan::Footing::derived},
         .remedy = "correct v_ln or v_ll, or the service",
         .look = look_at_voltages},
    Rule{.id = "panel.ring",
         .title = "panels feed each other in a ring",
         .source = {"the plan", "", "fed_from", plan::Footing::derived},
         .remedy = "correct fed_from",
         .look = look_at_ring},
};
}  // namespace

std::span<Rule const> panel_rules() { return rules; }

}  // namespace phasewright::checks
