// What no other rule can judge because the plan, or the profile, does not say it. A part that was not looked
// at is named: silence about it would read as praise.
#include <array>
#include <map>

#include "core/checks/notes.hpp"
#include "core/checks/rule.hpp"

namespace phasewright::checks {
namespace {

void look_at_unknown_meters(Ground const& ground, Notes& notes) {
    std::map<std::string, std::vector<AtPoint const*>> by_profile;
    for (auto const& at : ground.points)
        if (!at.point->to_choose.meter && at.hardware() == nullptr)
            by_profile[at.point->meter_profile].push_back(&at);
    for (auto const& [profile, points] : by_profile) {
        std::vector<Place> places{{PlaceKind::profile, profile}};
        for (auto const* at : points) places.push_back(at_point(*at));
        notes.add({.places = std::move(places),
                   .what = "nothing is known of " + profile +
                           " as a thing with screws: inputs, terminals, supply and bus of " +
                           std::to_string(points.size()) + (points.size() == 1 ? " point" : " points") +
                           " are not judged",
                   .value = static_cast<double>(points.size()),
                   .unit = "points"});
    }
}

void look_at_choices(Ground const& ground, Notes& notes) {
    add_by_panel(
        ground, notes, [](AtPoint const& at) { return at.point->to_choose.any(); },
        "with parts still to be chosen, which are not judged");
}

void look_at_loads(Ground const& ground, Notes& notes) {
    add_by_panel(
        ground, notes, [](AtPoint const& at) { return !at.point->usual_a && !at.point->least_a; },
        "without a usual load: whether it can be proven is not judged");
}

void look_at_taps(Ground const& ground, Notes& notes) {
    add_by_panel(
        ground, notes, [](AtPoint const& at) { return !at.point->tap.has_value(); },
        "without a word on the voltage taps and what protects them");
}

void look_at_supplies(Ground const& ground, Notes& notes) {
    add_by_panel(
        ground, notes,
        [](AtPoint const& at) {
            auto const* const hardware = at.hardware();
            return !at.point->supply && hardware != nullptr && hardware->supply &&
                   hardware->supply->kind != plan::SupplyKind::voltage_inputs;
        },
        "without a word on what supplies the meter");
}

constexpr RuleSource asked{"derived", "", "unknown data are asked for, not guessed", plan::Footing::derived};

constexpr std::array rules{
    Rule{.id = "open.meter",
         .title = "nothing is known of a kind of meter but how it is read",
         .severity = Severity::mind,
         .source = asked,
         .remedy = "write a profile with its terminals, inputs, supply and bus (docs/reference/profile.md)",
         .look = look_at_unknown_meters},
    Rule{.id = "open.choice",
         .title = "parts of a point are still to be chosen",
         .severity = Severity::mind,
         .source = asked,
         .remedy = "choose them, or have them proposed",
         .look = look_at_choices},
    Rule{.id = "open.load",
         .title = "the plan does not say what a point usually carries",
         .severity = Severity::mind,
         .source = asked,
         .remedy = "say usual_a, and least_a where something always runs",
         .look = look_at_loads},
    Rule{.id = "open.tap",
         .title = "the plan says nothing of a voltage tap",
         .severity = Severity::mind,
         .source = asked,
         .remedy = "describe it: size, length, protection; a tap without a small fuse is what burns first",
         .look = look_at_taps},
    Rule{.id = "open.supply",
         .title = "the plan does not say what supplies a meter",
         .severity = Severity::mind,
         .source = asked,
         .remedy = "say supply, or from = \"voltage-inputs\"",
         .look = look_at_supplies},
};
}  // namespace

std::span<Rule const> completeness_rules() { return rules; }

}  // namespace phasewright::checks
