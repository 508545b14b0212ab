// What a current transformer must drive, and whether its cables go through it (core/chain/burden.hpp,
// window_fit.hpp).
//   VA = I^2 (R_leads + R_contacts) + VA_meter
#include <array>

#include "core/chain/burden.hpp"
#include "core/chain/window_fit.hpp"
#include "core/checks/notes.hpp"
#include "core/checks/rule.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::checks {
namespace {
using chain::BurdenState;
using plan::CtOutput;

bool drives_a_lead(AtPoint const& at) {
    auto const output = at.point->ct.output;
    return at.has_ct() && at.point->lead &&
           (output == CtOutput::five_amperes || output == CtOutput::one_ampere);
}

chain::Burden burden_at(AtPoint const& at) {
    auto const* const hardware = at.hardware();
    auto const* const input = hardware == nullptr ? nullptr : plan::input_for(*hardware, at.point->ct.output);
    return chain::burden_of(at.point->ct, at.point->lead, input);
}

std::string lead_words(plan::Lead const& lead) {
    auto words = figure(lead.length_m) + " m of lead";
    if (lead.size) words += " of " + plan::text_of(*lead.size);
    return words + (lead.way_back == plan::Return::common ? ", common return" : ", own return");
}
std::string sum_words(chain::Burden const& burden) {
    std::vector<std::string> parts;
    if (burden.leads_va) parts.push_back("leads " + figure(*burden.leads_va));
    if (burden.contacts_va) parts.push_back("contacts " + figure(*burden.contacts_va));
    if (burden.meter_va) parts.push_back("meter " + figure(*burden.meter_va));
    return figure(burden.total_va) + " VA at " + figure(burden.rated_a) + " A (" +
           quantity::joined(parts, ", ") + ")";
}

void look_at_over(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        if (!drives_a_lead(at)) continue;
        auto const burden = burden_at(at);
        if (!burden.rated_va || burden.total_va <= *burden.rated_va * (1.0 + 1e-9)) continue;
        auto what = lead_words(*at.point->lead) + ": " + sum_words(burden) + " for a transformer of " +
                    figure(*burden.rated_va) + " VA";
        std::string remedy;
        if (burden.longest_lead_m && *burden.longest_lead_m > 0.0)
            remedy = "thicker leads, at most " + figure(*burden.longest_lead_m) +
                     " m of these, a transformer of 1 A or of a larger output, or the meter nearer to it";
        notes.add({.places = places_of(at),
                   .what = std::move(what),
                   .value = burden.total_va,
                   .limit = burden.rated_va,
                   .unit = "VA",
                   .remedy = std::move(remedy)});
    }
}

void look_at_under(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        if (!drives_a_lead(at)) continue;
        auto const burden = burden_at(at);
        if (burden.state != BurdenState::under || !burden.range) continue;
        notes.add({.places = places_of(at),
                   .what = lead_words(*at.point->lead) + ": " + sum_words(burden) +
                           "; the class is stated from " + figure(burden.range->least_va) + " VA on",
                   .value = burden.total_va,
                   .limit = burden.range->least_va,
                   .unit = "VA"});
    }
}

void look_at_one_phase(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        if (!drives_a_lead(at) || at.point->lead->way_back != plan::Return::common) continue;
        auto const burden = burden_at(at);
        if (!burden.rated_va || burden.total_va > *burden.rated_va || burden.one_phase_va <= *burden.rated_va)
            continue;
        notes.add({.places = places_of(at),
                   .what = lead_words(*at.point->lead) + ": " + figure(burden.total_va) +
                           " VA at a balanced load, " + figure(burden.one_phase_va) +
                           " VA with one phase alone loaded, for a transformer of " +
                           figure(*burden.rated_va) + " VA",
                   .value = burden.one_phase_va,
                   .limit = burden.rated_va,
                   .unit = "VA"});
    }
}

void look_at_not_said(Ground const& ground, Notes& notes) {
    add_by_panel(
        ground, notes,
        [](AtPoint const& at) {
            auto const output = at.point->ct.output;
            return at.has_ct() && (output == CtOutput::five_amperes || output == CtOutput::one_ampere) &&
                   (!at.point->lead || !at.point->lead->size || !chain::rated_output_va(at.point->ct));
        },
        "without the lead's size or the transformer's rated output: the burden is not judged");
}

void look_at_window(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        if (!at.has_ct() || !at.point->ct.window) continue;
        auto const cables = chain::phase_cables(*at.point);
        if (!cables || cables->diameters_mm.empty()) continue;
        auto const& window = *at.point->ct.window;
        auto const fit = chain::window_fit(window, cables->diameters_mm, notes.limit() / 100.0);
        if (fit.fits) continue;
        auto const opening = window.round
                                 ? figure(window.width_mm) + " mm round"
                                 : figure(window.width_mm) + " mm by " + figure(window.height_mm) + " mm";
        auto const count = cables->diameters_mm.size();
        notes.add(
            {.places = places_of(at),
             .what = (count == 1 ? std::string("one cable of ") : std::to_string(count) + " cables of ") +
                     figure(cables->diameters_mm.front()) + " mm, " + figure(fit.bundle_mm) +
                     " mm together, for a window of " + opening + " (" + figure(notes.limit()) +
                     " % more for dirt, tape and bends)" +
                     (fit.proven ? "" : "; no way was found, try it with the cables"),
             .value = fit.bundle_mm,
             .limit = window.round ? window.width_mm : std::min(window.width_mm, window.height_mm),
             .unit = "mm",
             .severity = fit.proven ? Severity::mend : Severity::mind});
    }
}

void look_at_extension(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        if (!at.has_ct() || at.point->ct.output != CtOutput::coil || !at.point->lead ||
            at.point->lead->length_m <= notes.limit())
            continue;
        notes.add({.places = places_of(at),
                   .what = "the coil's lead is " + figure(at.point->lead->length_m) +
                           " m long: a lead that was extended needs a new calibration",
                   .value = at.point->lead->length_m,
                   .limit = notes.limit()});
    }
}

constexpr std::array rules{
    Rule{.id = "burden.over",
         .title = "the transformer must drive more than it is rated for",
         .source = {"derived", "",
                    "I2 (leads + contacts) + meter, against the plate; leads: IEC 60228:2004 or ASTM B258",
                    plan::Footing::derived},
         .remedy = "thicker or shorter leads, or a transformer of 1 A or of a larger output",
         .look = look_at_over},
    Rule{.id = "burden.under",
         .title = "the transformer must drive less than its class is stated for",
         .severity = Severity::mind,
         .source = {"IEC 61869-2", "2012", "5.6.201: limits hold from 25 % of rated output",
                    plan::Footing::seen},
         .remedy = "a transformer of a smaller output, or one whose plate gives it an extended range",
         .look = look_at_under},
    Rule{.id = "burden.one-phase",
         .title = "a common return puts the transformer over its output while one phase alone is loaded",
         .severity = Severity::mind,
         .source = {"derived", "", "the return carries the sum of the currents", plan::Footing::derived},
         .remedy = "a return for each transformer",
         .look = look_at_one_phase},
    Rule{.id = "burden.not-said",
         .title = "the plan does not say what a burden is judged by",
         .severity = Severity::mind,
         .source = {"derived", "", "unknown data are asked for, not guessed", plan::Footing::derived},
         .remedy = "say lead with its length and size, and burden_va from the transformer's plate",
         .look = look_at_not_said},
    Rule{.id = "window.fit",
         .title = "the cables do not go through the transformer's window",
         .limit = RuleLimit{5.0, "%", "that the cables may grow by and still go through, at least"},
         .source = {"derived", "", "smallest circle round the cables; 3 to 5 % more is common practice",
                    plan::Footing::derived},
         .remedy = "a larger window, or all cables of the phase through one larger transformer; never one "
                   "cable of two",
         .look = look_at_window},
    Rule{.id = "window.coil-lead",
         .title = "a coil's lead was extended",
         .severity = Severity::mind,
         .limit = RuleLimit{5.0, "m", "of a coil's own lead, as it is usual; at most"},
         .source = {"common practice", "", "", plan::Footing::practice},
         .remedy = "a coil with the lead that is needed, calibrated with it",
         .look = look_at_extension},
};
}  // namespace

std::span<Rule const> burden_rules() { return rules; }

}  // namespace phasewright::checks
