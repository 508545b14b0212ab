// What the meter's voltage inputs get, against what they bear. Through a voltage transformer they get the
// planned voltage divided by its ratio.
//   corner-earthed delta   a live conductor stands at the line voltage above earth
//   high leg of a delta    line voltage x sqrt(3)/2 to the neutral
#include <algorithm>
#include <cmath>

#include "core/checks/notes.hpp"
#include "core/checks/rule.hpp"
#include "core/quantity/three_phase.hpp"

namespace phasewright::checks {
namespace {
using plan::Service;

struct AtInputs {
    double ln = 0.0, ll = 0.0;  // V; 0: there is none
};

// Between a live conductor and the neutral, or earth where there is none, and between live conductors.
AtInputs primary_of(AtPoint const& at) {
    auto const& nominal = at.panel->nominal;
    AtInputs volts{at.model.has_neutral ? nominal.v_ln : quantity::phase_from_line_v(nominal.v_ll),
                   at.model.line_pairs.empty() ? 0.0 : nominal.v_ll};
    if (at.point->service == Service::corner_earthed_delta) volts.ln = nominal.v_ll;
    if (at.point->service == Service::high_leg_delta) volts.ln = quantity::high_leg_v(nominal.v_ll);
    return volts;
}
AtInputs at_inputs(AtPoint const& at) {
    auto volts = primary_of(at);
    if (at.point->vt) {
        volts.ln /= at.point->vt->factor();
        volts.ll /= at.point->vt->factor();
    }
    return volts;
}

plan::VoltageInputs const* inputs_of(AtPoint const& at) {
    auto const* const hardware = at.hardware();
    if (at.panel == nullptr || hardware == nullptr || !hardware->voltage_inputs) return nullptr;
    return &*hardware->voltage_inputs;
}

void look_at_most(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        auto const* const inputs = inputs_of(at);
        if (inputs == nullptr) continue;
        auto const volts = at_inputs(at);
        auto const over = [](double planned, std::optional<double> most) {
            return most && planned > *most * 1.0005;
        };
        bool const line = over(volts.ll, inputs->most_ll);
        if (!line && !over(volts.ln, inputs->most_ln)) continue;
        double const planned = line ? volts.ll : volts.ln;
        double const most = line ? *inputs->most_ll : *inputs->most_ln;
        notes.add({.places = places_of(at),
                   .what = std::string(line ? "line voltage" : "voltage to the neutral or to earth") +
                           " of " + figure(planned) + " V at the inputs of " + at.point->meter_profile +
                           ", which bear " + figure(most) + " V" +
                           (at.point->vt ? " even behind the voltage transformers"
                                         : ": voltage transformers are needed"),
                   .value = planned,
                   .limit = most,
                   .unit = "V"});
    }
}

void look_at_least(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        auto const* const inputs = inputs_of(at);
        if (inputs == nullptr || !inputs->least_ll) continue;
        auto volts = at_inputs(at).ll;
        if (volts <= 0.0) volts = quantity::line_from_phase_v(at_inputs(at).ln);  // as if it were a wye
        if (volts >= *inputs->least_ll) continue;
        notes.add({.places = places_of(at),
                   .what = figure(volts) + " V between lines at the inputs of " + at.point->meter_profile +
                           "; below " + figure(*inputs->least_ll) + " V its accuracy is not stated",
                   .value = volts,
                   .limit = inputs->least_ll,
                   .unit = "V"});
    }
}

void look_at_transformers(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        if (!at.point->vt || at.panel == nullptr) continue;
        auto const volts = primary_of(at);
        double const primary = at.point->vt->primary;
        auto const far = [&](double planned) {
            return planned <= 0.0 ? 1e9 : std::abs(primary / planned - 1.0);
        };
        double const nearest = far(volts.ll) < far(volts.ln) ? volts.ll : volts.ln;
        if (far(nearest) * 100.0 <= notes.limit()) continue;
        notes.add({.places = places_of(at),
                   .what = "voltage transformers of " + figure(primary) + " V on a circuit of " +
                           figure(nearest) + " V",
                   .value = primary,
                   .limit = nearest,
                   .unit = "V"});
    }
}

// "CAT III 300 V": 3 and 300.
struct Category {
    int number = 0;
    double volts = 0.0;
};
std::optional<Category> category_of(std::string const& text) {
    auto const at = text.find("CAT ");
    if (at == std::string::npos) return std::nullopt;
    auto rest = text.substr(at + 4);
    auto const word = rest.substr(0, rest.find(' '));
    Category category;
    category.number = word == "IV" ? 4 : word == "III" ? 3 : word == "II" ? 2 : 0;
    if (category.number == 0) return std::nullopt;
    for (char const c : rest.substr(std::min(rest.size(), word.size() + 1))) {
        if (c < '0' || c > '9') break;
        category.volts = category.volts * 10.0 + (c - '0');
    }
    return category.volts > 0.0 ? std::optional(category) : std::nullopt;
}

void look_at_category(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        auto const* const inputs = inputs_of(at);
        if (inputs == nullptr || at.point->vt) continue;
        auto const category = category_of(inputs->category);
        double const planned = primary_of(at).ln;
        if (!category || (category->number >= 3 && planned <= category->volts)) continue;
        notes.add({.places = places_of(at),
                   .what = "the inputs of " + at.point->meter_profile + " are marked " + inputs->category +
                           "; a panel asks for category III or higher at " + figure(planned) +
                           " V to the neutral or to earth",
                   .value = planned,
                   .limit = category->volts,
                   .unit = "V"});
    }
}

constexpr auto profile_says = RuleSource{"the meter's profile", "", "voltage_inputs", plan::Footing::seen};

constexpr std::array rules{
    Rule{.id = "voltage.most",
         .title = "the voltage is above what the meter's inputs bear",
         .severity = Severity::stop,
         .source = profile_says,
         .remedy = "plan voltage transformers, or a meter with inputs for this voltage",
         .caution = "Insulation that is asked for more than it was made for can break down under a hand: "
                    "leave it unconnected.",
         .look = look_at_most},
    Rule{.id = "voltage.least",
         .title = "the voltage is below what the meter's accuracy is stated for",
         .source = profile_says,
         .remedy = "choose a meter for this voltage, or other voltage transformers",
         .look = look_at_least},
    Rule{.id = "voltage.transformer-ratio",
         .title = "the primary of the voltage transformers is not the circuit's voltage",
         .limit = RuleLimit{15.0, "%", "apart from the rated voltage, at most"},
         .source = {"common practice", "", "", plan::Footing::practice},
         .remedy = "compare the plate of the transformers with the panel's rated voltage",
         .look = look_at_transformers},
    Rule{.id = "voltage.category",
         .title = "the measurement category of the meter's inputs is not one for panels at this voltage",
         .source = {"IEC 61010-2-030", "", "measurement categories", plan::Footing::memory},
         .remedy = "choose a meter whose inputs are marked for the place; category IV at the source of the "
                   "installation",
         .look = look_at_category},
};
}  // namespace

std::span<Rule const> voltage_rules() { return rules; }

}  // namespace phasewright::checks
