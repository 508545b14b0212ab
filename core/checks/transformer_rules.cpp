// The current transformer itself: what it gives against what the meter takes, what can short it, its rating.
//   secondary current = load / (primary / secondary)
// A 5 A or 1 A transformer drives its current through whatever it finds: opened under load its core saturates
// and its secondary reaches kilovolts. A transformer with a voltage output is a source that a 5 A input
// shorts.
#include <algorithm>
#include <array>
#include <cmath>

#include "core/checks/notes.hpp"
#include "core/checks/rule.hpp"

namespace phasewright::checks {
namespace {
using plan::CtOutput;

void look_at_shorting(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        if (!at.has_ct() || at.point->ct.shorting != plan::Shorting::none) continue;
        if (!plan::is_current_loop(at.point->ct.output)) continue;
        notes.add(
            {.places = places_of(at),
             .what = std::string(at.point->ct.output == CtOutput::unknown
                                     ? "a transformer of unknown output counts as a current loop, and nothing"
                                     : "nothing") +
                     " can short the secondary before it is opened"});
    }
}

void look_at_shorting_not_said(Ground const& ground, Notes& notes) {
    add_by_panel(
        ground, notes,
        [](AtPoint const& at) {
            return at.has_ct() && plan::is_current_loop(at.point->ct.output) && !at.point->ct.shorting;
        },
        "without a word on what shorts the current loops before they are opened");
}

void look_at_output_not_said(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points)
        if (at.has_ct() && at.point->ct.output == CtOutput::unknown)
            notes.add({.places = places_of(at),
                       .what = "the output of the current transformer is not said; until it is, it counts as "
                               "a loop that must never be opened"});
}

std::string rated_words(plan::CurrentInput const& input) {
    bool const volts = input.output == CtOutput::millivolts || input.output == CtOutput::coil;
    return std::string(plan::name_of(input.output)) +
           (volts ? " (" + figure(input.rated * 1000.0) + " mV)" : "");
}
std::string inputs_of(plan::MeterHardware const& hardware) {
    std::vector<std::string> words;
    for (auto const& input : hardware.current_inputs) words.push_back(rated_words(input));
    return named(words);
}
std::string made_words(plan::CurrentTransformer const& ct) {
    bool const volts = ct.output == CtOutput::millivolts || ct.output == CtOutput::coil;
    return figure(ct.ratio.primary) + " A : " +
           (volts ? figure(ct.ratio.secondary * 1000.0) + " mV" : figure(ct.ratio.secondary) + " A") + " (" +
           std::string(plan::name_of(ct.output)) + ")";
}

// What happens to somebody's meter, in words; empty where figures would only be wrong.
std::string damage_of(CtOutput made, plan::MeterHardware const& hardware) {
    auto const takes = [&](CtOutput output) { return plan::input_for(hardware, output) != nullptr; };
    bool const loops = takes(CtOutput::five_amperes) || takes(CtOutput::one_ampere);
    if (made == CtOutput::five_amperes && takes(CtOutput::one_ampere))
        return "five times the current that the input is made for";
    if (made == CtOutput::five_amperes || made == CtOutput::one_ampere)
        return loops ? ""
                     : "the input is no path for the loop's current: it burns out, or the loop stands open "
                       "under kilovolts";
    if (loops) return "a 5 A or 1 A input shorts the transformer's output, and reads nothing of use";
    return "";
}

void look_at_output_kind(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        auto const* const hardware = at.hardware();
        auto const& ct = at.point->ct;
        if (!at.has_ct() || hardware == nullptr || hardware->current_inputs.empty() ||
            ct.output == CtOutput::unknown || plan::input_for(*hardware, ct.output) != nullptr)
            continue;
        auto const damage = damage_of(ct.output, *hardware);
        auto what = "current transformer of " + made_words(ct) + " for " + at.point->meter_profile +
                    ", whose inputs take " + inputs_of(*hardware);
        what += damage.empty() ? "; its figures would be wrong" : "; damage possible: blocked; " + damage;
        notes.add({.places = places_of(at),
                   .what = std::move(what),
                   .value = ct.ratio.secondary,
                   .unit = ct.output == CtOutput::millivolts || ct.output == CtOutput::coil ? "V" : "A",
                   .severity = damage.empty() ? Severity::mend : Severity::stop,
                   .by_physics = !damage.empty()});
    }
}

plan::CurrentInput const* input_of(AtPoint const& at) {
    auto const* const hardware = at.hardware();
    if (hardware == nullptr || !at.has_ct()) return nullptr;
    return plan::input_for(*hardware, at.point->ct.output);
}
bool gives_volts(CtOutput output) { return output == CtOutput::millivolts || output == CtOutput::coil; }

void look_at_rated_output(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        auto const* const input = input_of(at);
        if (input == nullptr || at.point->ct.output == CtOutput::coil) continue;
        double const given = at.point->ct.ratio.secondary;
        if (std::abs(given / input->rated - 1.0) * 100.0 <= notes.limit()) continue;
        bool const volts = gives_volts(at.point->ct.output);
        notes.add({.places = places_of(at),
                   .what = "current transformer of " + made_words(at.point->ct) + " for an input of " +
                           rated_words(*input) + ": shown " + figure(given / input->rated) +
                           " times the true current unless its ratio is programmed so",
                   .value = given,
                   .limit = input->rated,
                   .unit = volts ? "V" : "A"});
    }
}

std::optional<double> highest_a(AtPoint const& at) {
    if (at.point->most_a) return at.point->most_a;
    return at.point->breaker_a ? at.point->breaker_a : at.way == nullptr ? std::nullopt : at.way->breaker_a;
}

void look_at_input_most(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        auto const* const input = input_of(at);
        auto const highest = highest_a(at);
        if (input == nullptr || !input->most || !highest) continue;
        double const given = *highest / at.point->ct.ratio.factor();
        if (given <= *input->most * 1.0005) continue;
        notes.add({.places = places_of(at),
                   .what = figure(*highest) + " A through " + made_words(at.point->ct) + " gives the input " +
                           figure(given) + (gives_volts(at.point->ct.output) ? " V" : " A") +
                           ", and it bears " + figure(*input->most),
                   .value = given,
                   .limit = input->most,
                   .unit = gives_volts(at.point->ct.output) ? "V" : "A"});
    }
}

void look_at_rating(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        auto const breaker = at.point->breaker_a ? at.point->breaker_a
                             : at.way == nullptr ? std::nullopt
                                                 : at.way->breaker_a;
        if (!at.has_ct() || !breaker) continue;
        double const bears = at.point->ct.ratio.primary * at.point->ct.most_percent.value_or(100.0) / 100.0;
        if (*breaker <= bears) continue;
        notes.add({.places = places_of(at),
                   .what = "current transformer rated " + figure(bears) + " A behind a breaker of " +
                           figure(*breaker) + " A",
                   .value = breaker,
                   .limit = bears,
                   .unit = "A"});
    }
}

// Per cent of the rated primary below which the class states nothing.
struct Floor {
    double percent = 5.0;
    RuleSource source;
};
Floor floor_of(plan::CurrentTransformer const& ct, double set) {
    constexpr RuleSource plain{"IEC 61869-2", "2012", "5.6.201, Tables 201 and 202", plan::Footing::seen};
    if (ct.accuracy_class.ends_with('S')) return {1.0, plain};
    if (ct.accuracy_class == "3" || ct.accuracy_class == "5") return {50.0, plain};
    return {set, plain};
}

struct LoadWords {
    std::optional<double> plan::MeteringPoint::* amperes;
    std::string_view words;
};
void look_at_floor(Ground const& ground, Notes& notes, LoadWords const& load) {
    for (auto const& at : ground.points) {
        auto const& amperes = (*at.point).*load.amperes;
        if (!at.has_ct() || !amperes || *amperes <= 0.0) continue;
        auto const floor = floor_of(at.point->ct, notes.limit());
        double const share = 100.0 * *amperes / at.point->ct.ratio.primary;
        if (share >= floor.percent * 0.9999) continue;
        notes.add({.places = places_of(at),
                   .what = std::string(load.words) + " of " + figure(*amperes) + " A is " + figure(share) +
                           " % of " + figure(at.point->ct.ratio.primary) + " A: unproven below " +
                           figure(floor.percent) + " % (" +
                           figure(floor.percent * at.point->ct.ratio.primary / 100.0) + " A)" +
                           (at.point->ct.accuracy_class.empty() ? ", taken as a class without S"
                                                                : ", class " + at.point->ct.accuracy_class),
                   .value = share,
                   .limit = floor.percent,
                   .unit = "%",
                   .source = floor.source});
    }
}
void look_at_usual(Ground const& ground, Notes& notes) {
    look_at_floor(ground, notes, {&plan::MeteringPoint::usual_a, "the usual load"});
}
void look_at_least(Ground const& ground, Notes& notes) {
    look_at_floor(ground, notes, {&plan::MeteringPoint::least_a, "the least load"});
}

constexpr auto loop_caution =
    "An open current loop under load reaches kilovolts. Never open it: short it at the transformer first, "
    "see the current in the short "
    "with a clamp, then open; the other way round to restore. Work on live parts belongs to qualified people "
    "under the local code.";

constexpr std::array rules{
    Rule{.id = "transformer.shorting",
         .title = "a current loop has no means of shorting",
         .severity = Severity::stop,
         .source = {"derived", "", "an opened current transformer saturates and drives kilovolts",
                    plan::Footing::derived},
         .remedy = "plan a shorting block or a test switch at the transformer's side",
         .caution = loop_caution,
         .look = look_at_shorting},
    Rule{.id = "transformer.shorting-not-said",
         .title = "the plan does not say what shorts a current loop",
         .severity = Severity::mind,
         .source = {"derived", "", "an opened current transformer saturates and drives kilovolts",
                    plan::Footing::derived},
         .remedy = "say it in the plan: shorting = \"block\", \"switch\" or \"built-in\"; never open such a "
                   "loop without",
         .look = look_at_shorting_not_said},
    Rule{.id = "transformer.output-not-said",
         .title = "the plan does not say what a transformer's output is",
         .source = {"derived", "", "an unknown output counts as a current loop", plan::Footing::derived},
         .remedy = "read its plate and say it in the plan: output",
         .look = look_at_output_not_said},
    Rule{.id = "transformer.output-kind",
         .title = "the transformer's output is not what the meter's input is made for; stop where damage is "
                  "possible",
         .severity = Severity::stop,
         .source = {"the meter's profile", "", "current_inputs", plan::Footing::seen},
         .remedy = "order the transformer for this input, or a meter for this transformer; connect neither "
                   "to the other",
         .caution = "Do not connect them. A 5 A or 1 A loop on an input that is no path for it stands open "
                    "under kilovolts; an input "
                    "or an output can be destroyed.",
         .look = look_at_output_kind},
    Rule{.id = "transformer.rated-output",
         .title = "the transformer's rated output is not the input's",
         .limit = RuleLimit{1.0, "%", "apart from the rated input, at most"},
         .source = {"the meter's profile", "", "current_inputs", plan::Footing::seen},
         .remedy = "a transformer with the input's rated output",
         .look = look_at_rated_output},
    Rule{.id = "transformer.input-most",
         .title = "the highest current gives the meter's input more than it bears",
         .source = {"the meter's profile", "", "current_inputs", plan::Footing::seen},
         .remedy = "a larger primary, or a meter that bears more",
         .look = look_at_input_most},
    Rule{.id = "transformer.rating",
         .title = "the transformer is rated below the breaker",
         .source = {"common practice", "",
                    "rated primary at least the breaker's rating, or its extended range",
                    plan::Footing::practice},
         .remedy = "a larger primary, or one whose plate gives it an extended range",
         .look = look_at_rating},
    Rule{.id = "transformer.usual-load",
         .title = "the usual load is below what the transformer's class speaks of",
         .limit =
             RuleLimit{5.0, "%", "of the rated primary current; classes with S 1 %, classes 3 and 5 50 %"},
         .source = {"IEC 61869-2", "2012", "5.6.201, Tables 201 and 202", plan::Footing::seen},
         .remedy = "a smaller primary that still bears the breaker, or a class with S",
         .look = look_at_usual},
    Rule{.id = "transformer.least-load",
         .title = "the least load is below what the transformer's class speaks of",
         .severity = Severity::mind,
         .limit =
             RuleLimit{5.0, "%", "of the rated primary current; classes with S 1 %, classes 3 and 5 50 %"},
         .source = {"IEC 61869-2", "2012", "5.6.201, Tables 201 and 202", plan::Footing::seen},
         .remedy = "prove the point while the load runs; say that its standby is not proven",
         .look = look_at_least},
};
}  // namespace

std::span<Rule const> transformer_rules() { return rules; }

}  // namespace phasewright::checks
