// Does the meter have enough elements for the wires? Blondel (1893): the energy through N wires needs N - 1
// elements whose voltages share the Nth. With fewer the meter is right for some loads and wrong for others:
//   one element, U12 with the current of L1, two phases of a wye, equal loads to the neutral
//   registered / true = Re((U1 - U2) conj(I1)) / (|U1| |I1| + |U2| |I2|) = 1.5 / 2 = 75 %
#include <algorithm>
#include <array>
#include <cmath>

#include "core/checks/notes.hpp"
#include "core/checks/rule.hpp"

namespace phasewright::checks {
namespace {
using plan::Service;

std::vector<plan::Conductor> live_of(plan::Way const& way) {
    std::vector<plan::Conductor> live;
    for (auto const conductor : way.conductors)
        if (conductor != plan::Conductor::n && std::ranges::find(live, conductor) == live.end())
            live.push_back(conductor);
    return live;
}

// The circuit has a neutral: its way touches one, or its cable has one more colour than live conductors.
bool has_neutral(AtPoint const& at, std::size_t live) {
    bool const on_way = at.way != nullptr &&
                        std::ranges::find(at.way->conductors, plan::Conductor::n) != at.way->conductors.end();
    return on_way || (at.point->cable && at.point->cable->colours.size() == live + 1 && live > 0);
}

// Registered over true power, every load at power factor 1.
struct Share {
    double equal = 0.0;         // equal currents from all live conductors to the neutral
    std::vector<double> alone;  // a load on one of them alone, in their order
};

Share share_of(std::vector<plan::ElementConnection> const& elements, std::vector<plan::Conductor> const& live,
               plan::SourcePhasors const& u) {
    auto const at = [&](plan::Conductor conductor) { return u[static_cast<std::size_t>(conductor)]; };
    Share share;
    double all_seen = 0.0;
    double all_true = 0.0;
    for (auto const loaded : live) {
        auto const current = at(loaded) / std::abs(at(loaded));
        double seen = 0.0;
        for (auto const& element : elements)
            if (element.ct == loaded)
                seen += std::real((at(element.plus) - at(element.minus)) * std::conj(current));
        double const truth = std::abs(at(loaded));
        share.alone.push_back(seen / truth);
        all_seen += seen;
        all_true += truth;
    }
    share.equal = all_seen / all_true;
    return share;
}

Service service_behind(AtPoint const& at) {
    auto const supplied = at.panel->service;
    if (supplied == Service::split_phase_three_wire || supplied == Service::high_leg_delta) return *supplied;
    if (at.point->service == Service::split_phase_three_wire || at.point->service == Service::high_leg_delta)
        return at.point->service;
    return Service::four_wire_wye;
}

std::string percent(double share) { return figure(100.0 * share) + " %"; }

std::string words_of_elements(std::vector<plan::ElementConnection> const& elements, Ground const& ground) {
    std::vector<std::string> words;
    for (auto const& element : elements)
        words.push_back("the voltage from " + ground.name(element.plus) + " to " +
                        ground.name(element.minus) + " with the current of " + ground.name(element.ct));
    return (elements.size() == 1 ? std::string("one element (")
                                 : std::to_string(elements.size()) + " elements (") +
           named(words) + ")";
}

// What these elements make of loads to the neutral. A circuit that has none may yet be metered right.
void judge(AtPoint const& at, std::vector<plan::ElementConnection> const& elements,
           std::vector<plan::Conductor> const& live, bool neutral, Ground const& ground, Notes& notes) {
    auto const behind = plan::model_of(service_behind(at), at.point->model_options);
    auto const u =
        plan::source_phasors(behind, at.panel->nominal, at.point->rotation.value_or(plan::Sequence::abc));
    if (std::ranges::any_of(
            live, [&](auto conductor) { return std::abs(u[static_cast<std::size_t>(conductor)]) < 1e-9; }))
        return;
    auto const share = share_of(elements, live, u);
    auto const wires = live.size() + (neutral ? 1 : 0);
    bool const right =
        std::ranges::all_of(share.alone, [](double alone) { return std::abs(alone - 1.0) < 1e-6; });
    if (right && elements.size() + 1 >= wires) return;
    std::vector<std::string> alone;
    for (std::size_t k = 0; k < live.size(); ++k)
        alone.push_back(percent(share.alone[k]) + " on " + ground.name(live[k]));
    std::string what = words_of_elements(elements, ground) + " for " + std::to_string(wires) +
                       " wires, which need " + std::to_string(wires - 1) + ": " + percent(share.equal) +
                       " of equal loads to the neutral is registered (of a load on one conductor alone " +
                       named(alone) + ")";
    if (!neutral) what += "; right only if nothing is joined to the neutral";
    notes.add({.places = places_of(at),
               .what = std::move(what),
               .value = 100.0 * share.equal,
               .limit = 100.0,
               .unit = "%",
               .severity = neutral ? Severity::mend : Severity::mind});
}

void look_at_elements(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        if (at.panel == nullptr) continue;
        bool const on_map = at.way != nullptr && !at.way->conductors.empty();
        auto const live = on_map ? live_of(*at.way) : at.model.live;
        bool const neutral = on_map ? has_neutral(at, live.size()) : at.model.has_neutral;
        auto const wires = live.size() + (neutral ? 1 : 0);
        bool const one_for_two = at.point->service == Service::one_phase_two_wire &&
                                 at.point->elements.empty() && at.point->model_options.branches.empty() &&
                                 live.size() == 2;
        if (!at.point->elements.empty()) {
            judge(at, at.point->elements, live, neutral, ground, notes);
        } else if (one_for_two) {
            judge(at, {{live[0], live[1], live[0]}}, live, neutral, ground, notes);
        } else if (on_map && at.point->model_options.branches.empty() &&
                   wires > at.model.elements.size() + 1) {
            notes.add({.places = places_of(at),
                       .what = std::to_string(wires) + " wires need " + std::to_string(wires - 1) +
                               " elements, and " + std::string(plan::code_of(at.point->service)) + " has " +
                               std::to_string(at.model.elements.size()) +
                               "; it is right only while the wire without an element carries nothing",
                       .value = static_cast<double>(at.model.elements.size()),
                       .limit = static_cast<double>(wires - 1),
                       .unit = "elements"});
        }
    }
}

// The meter as a thing: its voltage terminals and current inputs.
void look_at_inputs(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        if (at.meter == nullptr || at.meter->terminals == nullptr || at.panel == nullptr) continue;
        auto const& terminals = *at.meter->terminals;
        auto const wanted = std::max(at.model.current_inputs.size(), at.model.terminals.size());
        auto const offered = std::min(terminals.current.size(), terminals.voltage.size());
        if (!at.point->elements.empty()) continue;  // planned otherwise, and judged by its elements
        if (terminals.current.size() >= at.model.current_inputs.size() &&
            terminals.voltage.size() >= at.model.terminals.size())
            continue;
        notes.add({.places = places_of(at),
                   .what = "the service " + std::string(plan::code_of(at.point->service)) + " lands " +
                           std::to_string(at.model.terminals.size()) + " voltages and " +
                           std::to_string(at.model.current_inputs.size()) + " currents, and " +
                           at.point->meter_profile + " has " + std::to_string(terminals.voltage.size()) +
                           " and " + std::to_string(terminals.current.size()) + " inputs",
                   .value = static_cast<double>(offered),
                   .limit = static_cast<double>(wanted),
                   .unit = "inputs"});
    }
}

void look_at_setting(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        if (at.meter == nullptr || at.meter->services.empty()) continue;
        if (std::ranges::find(at.meter->services, at.point->service) != at.meter->services.end()) continue;
        std::vector<std::string> codes;
        for (auto const service : at.meter->services) codes.emplace_back(plan::code_of(service));
        notes.add({.places = places_of(at),
                   .what = at.point->meter_profile + " cannot be set to " +
                           std::string(plan::words_of(at.point->service)) + " (" +
                           std::string(plan::code_of(at.point->service)) + "); it knows " + named(codes)});
    }
}

void look_at_derived_current(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points)
        if (at.point->service == Service::four_wire_two_ct)
            notes.add(
                {.places = places_of(at),
                 .what = "the third current is derived from two, which holds only while the neutral carries "
                         "nothing; one-phase loads and third harmonics are registered wrong"});
}

void look_at_branches(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        auto const& branches = at.point->model_options.branches;
        if (branches.size() < 2) continue;
        std::vector<std::string> ids;
        for (auto const& branch : branches)
            ids.push_back(branch.id +
                          (branch.to_choose ? ", phase to be chosen" : " on " + ground.name(branch.phase)));
        notes.add({.places = places_of(at),
                   .what = std::to_string(branches.size()) + " one-phase loads share one meter (" +
                           named(ids) +
                           "): its total is their sum, and only the figures of its elements tell them apart",
                   .value = static_cast<double>(branches.size()),
                   .unit = "loads"});
    }
}

void look_at_high_leg(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        if (at.panel == nullptr || at.panel->service != Service::high_leg_delta || at.way == nullptr ||
            at.point->service != Service::one_phase_two_wire)
            continue;
        auto const live = live_of(*at.way);
        auto const u = plan::source_phasors(plan::model_of(Service::high_leg_delta), at.panel->nominal,
                                            plan::Sequence::abc);
        if (live.size() != 1) continue;
        double const to_neutral = std::abs(u[static_cast<std::size_t>(live[0])]);
        if (to_neutral < 1.2 * at.panel->nominal.v_ln) continue;
        notes.add({.places = places_of(at),
                   .what = "a one-phase circuit hangs on the high leg " + ground.name(live[0]) + ": " +
                           figure(to_neutral) + " V to the neutral where " + figure(at.panel->nominal.v_ln) +
                           " V is rated",
                   .value = to_neutral,
                   .limit = at.panel->nominal.v_ln,
                   .unit = "V"});
    }
}

void look_at_rotation(Ground const& ground, Notes& notes) {
    for (auto const& panel : ground.panels) {
        AtPoint const* first = nullptr;
        for (auto const* at : panel.points) {
            if (!at->point->rotation || at->model.live.size() < 3) continue;
            if (first == nullptr) first = at;
            if (*at->point->rotation == *first->point->rotation) continue;
            notes.add(
                {.places = {at_point(*at), at_point(*first), at_panel(*panel.panel)},
                 .what = "its rotation is " + std::string(plan::name_of(*at->point->rotation)) +
                         " and that of " + first->point->id + " on the same panel is " +
                         std::string(plan::name_of(*first->point->rotation)) +
                         "; a panel has one, unless a circuit exchanges two phases behind its breaker"});
        }
    }
}

constexpr auto blondel = RuleSource{"Blondel 1893", "", "N wires need N - 1 elements", plan::Footing::seen};

constexpr std::array rules{
    Rule{.id = "service.elements",
         .title = "a circuit has more wires than the meter's elements can measure",
         .source = blondel,
         .remedy = "plan one element for each wire but one: 2P3W or 1P3W for two live conductors and a "
                   "neutral, 3P4W for three",
         .look = look_at_elements},
    Rule{.id = "service.inputs",
         .title = "the meter has fewer voltage terminals or current inputs than the service lands on it",
         .source = blondel,
         .remedy = "choose a meter with an element for each wire but one",
         .look = look_at_inputs},
    Rule{.id = "service.setting",
         .title = "the meter cannot be set to the service",
         .source = {"the meter's profile", "", "services", plan::Footing::seen},
         .remedy = "choose a meter that knows this service, or correct the service",
         .look = look_at_setting},
    Rule{.id = "service.derived-current",
         .title = "a four-wire circuit is metered with two current transformers",
         .source = blondel,
         .remedy = "fit a third current transformer and plan 3P4W",
         .look = look_at_derived_current},
    Rule{.id = "service.branches",
         .title = "several one-phase loads share one meter",
         .severity = Severity::mind,
         .source = {"derived", "", "a total is the sum of its elements", plan::Footing::derived},
         .remedy = "read and bill by element, and say at hand-over which element is which load",
         .look = look_at_branches},
    Rule{.id = "service.high-leg",
         .title = "a one-phase circuit hangs on the high leg of a delta",
         .source = {"derived", "", "high leg to neutral = line voltage x sqrt(3)/2", plan::Footing::derived},
         .remedy = "move the circuit to another leg, or correct the panel's map; measure before anything is "
                   "connected",
         .look = look_at_high_leg},
    Rule{.id = "service.rotation",
         .title = "points on one panel are planned with different rotations",
         .severity = Severity::mind,
         .source = {"derived", "", "one source has one sequence of phases", plan::Footing::derived},
         .remedy = "measure the rotation at the panel and correct the plan",
         .look = look_at_rotation},
};
}  // namespace

std::span<Rule const> service_rules() { return rules; }

}  // namespace phasewright::checks
