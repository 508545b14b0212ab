// The box and the air in it, against what the meter's maker states. Water runs along a conduit: one that
// enters an outdoor box from above brings it in on whatever stands below.
#include <algorithm>
#include <array>

#include "core/checks/notes.hpp"
#include "core/checks/rule.hpp"

namespace phasewright::checks {
namespace {

// Points of a panel by the profile of their meter, so that a box with forty alike meters is one finding.
template <class Say>
void for_each_kind(Ground const& ground, Notes& notes, Say const& say) {
    for (auto const& panel : ground.panels) {
        if (!panel.panel->enclosure) continue;
        std::vector<std::string> done;
        for (auto const* at : panel.points) {
            auto const* const hardware = at->hardware();
            if (hardware == nullptr || !hardware->limits) continue;
            if (std::ranges::find(done, at->point->meter_profile) != done.end()) continue;
            done.push_back(at->point->meter_profile);
            std::optional<Note> note =
                say(*panel.panel->enclosure, *hardware->limits, at->point->meter_profile);
            if (!note) continue;
            note->places = {at_panel(*panel.panel)};
            for (auto const* other : panel.points)
                if (other->point->meter_profile == at->point->meter_profile)
                    note->places.push_back(at_point(*other));
            notes.add(std::move(*note));
        }
    }
}

void look_at_temperature(Ground const& ground, Notes& notes) {
    for_each_kind(
        ground, notes,
        [](plan::Enclosure const& box, plan::MeterLimits const& limits, std::string const& profile) {
            std::optional<Note> note;
            if (!box.temperature_c || !limits.temperature_c) return note;
            bool const hot = box.temperature_c->most > limits.temperature_c->most;
            bool const cold = box.temperature_c->least < limits.temperature_c->least;
            if (!hot && !cold) return note;
            double const value = hot ? box.temperature_c->most : box.temperature_c->least;
            double const limit = hot ? limits.temperature_c->most : limits.temperature_c->least;
            note = Note{.what = "inside the box it is " + figure(box.temperature_c->least) + " to " +
                                figure(box.temperature_c->most) + " degrees C; " + profile + " is made for " +
                                figure(limits.temperature_c->least) + " to " +
                                figure(limits.temperature_c->most),
                        .value = value,
                        .limit = limit,
                        .unit = "degrees C"};
            return note;
        });
}

void look_at_humidity(Ground const& ground, Notes& notes) {
    for_each_kind(
        ground, notes,
        [](plan::Enclosure const& box, plan::MeterLimits const& limits, std::string const& profile) {
            std::optional<Note> note;
            if (box.humidity_percent && limits.humidity_percent &&
                *box.humidity_percent > *limits.humidity_percent)
                note = Note{.what = "up to " + figure(*box.humidity_percent) +
                                    " % relative humidity inside the box; " + profile + " is made for " +
                                    figure(*limits.humidity_percent) + " %, not condensing",
                            .value = box.humidity_percent,
                            .limit = limits.humidity_percent,
                            .unit = "%"};
            return note;
        });
}

void look_at_condensation(Ground const& ground, Notes& notes) {
    for_each_kind(
        ground, notes,
        [](plan::Enclosure const& box, plan::MeterLimits const& limits, std::string const& profile) {
            std::optional<Note> note;
            if (box.condensation.value_or(false) && limits.humidity_percent)
                note = Note{.what = "water is to be expected inside the box; " + profile +
                                    " is made for air that does not condense"};
            return note;
        });
}

void look_at_entry(Ground const& ground, Notes& notes) {
    for (auto const& panel : ground.panels) {
        auto const& box = panel.panel->enclosure;
        if (!box || box->stands != plan::Whereabouts::outdoor ||
            std::ranges::find(box->entries, plan::CableEntry::top) == box->entries.end())
            continue;
        notes.add({.places = {at_panel(*panel.panel)},
                   .what = "conduit enters an outdoor box from above: water runs along it and down on what "
                           "stands below"});
    }
}

// "IP54": 4. Empty for another kind of code, or "IP5X".
std::optional<int> water_digit(std::string const& code) {
    if (code.size() < 4 || code[0] != 'I' || code[1] != 'P' || code[3] < '0' || code[3] > '9')
        return std::nullopt;
    return code[3] - '0';
}

void look_at_protection(Ground const& ground, Notes& notes) {
    for (auto const& panel : ground.panels) {
        auto const& box = panel.panel->enclosure;
        if (!box || box->stands != plan::Whereabouts::outdoor) continue;
        auto const digit = water_digit(box->protection);
        if (!digit || *digit >= notes.limit()) continue;
        notes.add({.places = {at_panel(*panel.panel)},
                   .what = "an outdoor box of " + box->protection +
                           ", whose second digit is below that for splashing water",
                   .value = digit,
                   .limit = notes.limit()});
    }
}

constexpr auto profile_says = RuleSource{"the meter's profile", "", "limits", plan::Footing::seen};

constexpr std::array rules{
    Rule{.id = "environment.temperature",
         .title = "the box is hotter or colder inside than the meter is made for",
         .source = profile_says,
         .remedy = "another place, shade, ventilation or heating, or another meter",
         .look = look_at_temperature},
    Rule{.id = "environment.humidity",
         .title = "the box is damper inside than the meter is made for",
         .source = profile_says,
         .remedy = "heating against damp, or another place",
         .look = look_at_humidity},
    Rule{.id = "environment.condensation",
         .title = "water condenses where the meter is made for dry air",
         .source = profile_says,
         .remedy = "an anti-condensation heater, a drain, or another place",
         .look = look_at_condensation},
    Rule{.id = "environment.top-entry",
         .title = "conduit enters an outdoor box from above",
         .source = {"common practice", "", "", plan::Footing::practice},
         .remedy = "enter from below or from the side with a drip loop; where it must be from above, a "
                   "sealed hub and a drain",
         .look = look_at_entry},
    Rule{.id = "environment.protection",
         .title = "an outdoor box does not keep out splashing water",
         .limit = RuleLimit{4.0, "", "second digit of its code, at least"},
         .source = {"IEC 60529", "", "second characteristic numeral", plan::Footing::memory},
         .remedy = "a box with a higher code, or a roof over it",
         .look = look_at_protection},
};
}  // namespace

std::span<Rule const> environment_rules() { return rules; }

}  // namespace phasewright::checks
