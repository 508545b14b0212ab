// Colours of insulation against the set that is used at the panel's voltage. Old and new colours hang side by
// side in one building, and one set's neutral is another's phase: a colour proves nothing, so no finding here
// says what a wire is.
#include <algorithm>
#include <array>
#include <set>

#include "core/checks/notes.hpp"
#include "core/checks/rule.hpp"

namespace phasewright::checks {
namespace {
using plan::ColourSet;
using plan::Conductor;

ColourSet const* set_of(plan::Panel const& panel, Ground const& ground) {
    return plan::colours_for(ground.site.region, panel.colours, panel.nominal.v_ll);
}

std::string const& colour_of(ColourSet const& set, Conductor conductor, std::optional<Conductor> high_leg) {
    if (conductor == Conductor::n) return set.neutral;
    if (high_leg == conductor && !set.high_leg.empty()) return set.high_leg;
    return set.phases.at(static_cast<std::size_t>(conductor));
}

struct Seen {
    std::vector<Conductor> conductors;  // in the order of the colours
    std::vector<std::string> colours;
    std::optional<Conductor> high_leg;
};
Seen seen_at(AtPoint const& at) {
    Seen seen;
    if (!at.point->cable || at.panel == nullptr) return seen;
    seen.colours = at.point->cable->colours;
    bool const on_map = at.way != nullptr && !at.way->conductors.empty();
    for (auto const conductor : on_map ? at.way->conductors : at.model.live)
        if (conductor != Conductor::n) seen.conductors.push_back(conductor);
    seen.conductors.push_back(Conductor::n);
    if (at.point->service == plan::Service::high_leg_delta ||
        at.panel->service == plan::Service::high_leg_delta)
        seen.high_leg = at.point->model_options.high_leg;
    return seen;
}

bool is_painted_as(ColourSet const& set, Seen const& seen) {
    for (std::size_t k = 0; k < std::min(seen.colours.size(), seen.conductors.size()); ++k)
        if (!plan::same_colour(seen.colours[k], colour_of(set, seen.conductors[k], seen.high_leg)))
            return false;
    return true;
}

void look_at_colours(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        auto const seen = seen_at(at);
        if (seen.colours.empty()) continue;
        auto const* const set = set_of(*at.panel, ground);
        if (set == nullptr || is_painted_as(*set, seen)) continue;
        std::vector<std::string> wrong;
        for (std::size_t k = 0; k < std::min(seen.colours.size(), seen.conductors.size()); ++k) {
            auto const& wanted = colour_of(*set, seen.conductors[k], seen.high_leg);
            if (!plan::same_colour(seen.colours[k], wanted))
                wrong.push_back(ground.name(seen.conductors[k]) + " is " + seen.colours[k] + " and not " +
                                wanted);
        }
        std::string other;
        for (auto const& candidate : ground.site.region.colour_sets)
            if (other.empty() && &candidate != set && is_painted_as(candidate, seen)) other = candidate.title;
        notes.add({.places = places_of(at),
                   .what = named(wrong) + " by " + set->title +
                           (other.empty() ? "" : "; they are those of " + other),
                   .source = RuleSource{set->source, "", "", set->footing}});
    }
}

void look_at_high_leg(Ground const& ground, Notes& notes) {
    if (!ground.has_rule_text("high-leg-marking")) return;
    for (auto const& at : ground.points) {
        auto const seen = seen_at(at);
        if (!seen.high_leg) continue;
        for (std::size_t k = 0; k < std::min(seen.colours.size(), seen.conductors.size()); ++k)
            if (seen.conductors[k] == *seen.high_leg && !plan::same_colour(seen.colours[k], "orange"))
                notes.add({.places = places_of(at),
                           .what = "the high leg " + ground.name(*seen.high_leg) + " is " + seen.colours[k] +
                                   " and not orange, where the neutral is also present"});
    }
}

void look_at_mixture(Ground const& ground, Notes& notes) {
    std::vector<std::pair<ColourSet const*, plan::Panel const*>> used;  // each set once, with its first panel
    for (auto const& in : ground.panels) {
        auto const* const set = set_of(*in.panel, ground);
        if (set != nullptr && std::ranges::none_of(used, [&](auto const& one) { return one.first == set; }))
            used.emplace_back(set, in.panel);
    }
    for (auto const& [one, its_panel] : used)
        for (auto const& [other, other_panel] : used)
            for (auto const& phase : other->phases)
                if (one != other && plan::same_colour(one->neutral, phase))
                    notes.add({.places = {at_panel(*its_panel), at_panel(*other_panel)},
                               .what = one->neutral + " is the neutral by " + one->title + " at " +
                                       its_panel->id + " and a phase by " + other->title + " at " +
                                       other_panel->id});
}

// R, Y, B are the initials of red, yellow, blue; so are U, V, W of nothing.
void look_at_names(Ground const& ground, Notes& notes) {
    auto const& names = ground.site.region.conductors;
    if (names[0] != "R" || names[1] != "Y" || names[2] != "B") return;
    std::set<ColourSet const*> told;
    for (auto const& in : ground.panels) {
        auto const* const set = set_of(*in.panel, ground);
        if (set == nullptr || !told.insert(set).second) continue;
        if (plan::same_colour(set->phases[0], "red") && plan::same_colour(set->phases[1], "yellow") &&
            plan::same_colour(set->phases[2], "blue"))
            continue;
        notes.add({.places = {at_panel(*in.panel)},
                   .what = "phases are called R, Y, B after red, yellow and blue, and the colours are " +
                           set->phases[0] + ", " + set->phases[1] + " and " + set->phases[2] + " (" +
                           set->title + ")"});
    }
}

constexpr std::array rules{
    Rule{.id = "colour.phases",
         .title = "colours of a cable are not those of the region's set",
         .source = {"the region's colours", "", "docs/reference/regions.md", plan::Footing::practice},
         .remedy =
             "measure what each conductor is, mark its ends, and correct the plan; a colour proves nothing",
         .look = look_at_colours},
    Rule{.id = "colour.high-leg",
         .title = "the high leg is not marked as one",
         .source = {"NEC", "", "110.15, 230.56", plan::Footing::seen},
         .remedy = "mark it orange, or as well as that, wherever the neutral is also present",
         .look = look_at_high_leg},
    Rule{.id = "colour.mixture",
         .title = "one colour is a neutral on one panel and a phase on another",
         .severity = Severity::mind,
         .source = {"the region's colours", "", "docs/reference/regions.md", plan::Footing::practice},
         .remedy = "a notice at both panels; measure before anything is touched",
         .look = look_at_mixture},
    Rule{.id = "colour.names",
         .title = "phases are named after colours that they do not have",
         .severity = Severity::mind,
         .source = {"common practice", "", "", plan::Footing::practice},
         .remedy = "other names for the phases, or a notice",
         .look = look_at_names},
};
}  // namespace

std::span<Rule const> colour_rules() { return rules; }

}  // namespace phasewright::checks
