// A voltage tap is a thin wire on a thick conductor: it carries milliamperes, and in a fault all that the
// panel can give.
//   carries     rated current of the device in front <= what the conductor carries for ever
//   survives    I2t let through by the device <= k2 S2, adiabatic heating; k = 115 A s^1/2/mm2, copper in PVC
//   melts       from 30 to 1083 degrees C: I2t = 226^2 ln((234.5 + 1083) / (234.5 + 30)) S2 = 82 000 S2
//   breaks      prospective current of the panel <= what the device breaks
//   run in front of its protection: 3 m (IEC), or 10 ft and 25 ft with a tenth and a third of the device in
//   front (NEC)
// A device of twice the table's current heats the conductor four times as much as the table allows: no
// edition's table is that far from another's, so such a finding does not wait for one.
#include <cmath>

#include "core/checks/ampacity.hpp"
#include "core/checks/notes.hpp"
#include "core/checks/rule.hpp"

namespace phasewright::checks {
namespace {
using plan::TapProtection;

constexpr double beyond_any_edition = 2.0;     // times the table's current
constexpr double melts_a2s_per_mm4 = 82000.0;  // derived above
constexpr double usual_k = 115.0;              // copper in PVC, from memory
constexpr double metres_per_foot = 0.3048;

struct Device {
    std::optional<double> amperes;
    std::string words;
};

std::optional<double> circuit_breaker_a(AtPoint const& at) {
    if (at.point->breaker_a) return at.point->breaker_a;
    return at.way == nullptr ? std::nullopt : at.way->breaker_a;
}
std::optional<double> panel_breaker_a(AtPoint const& at) {
    return at.panel == nullptr ? std::nullopt : at.panel->breaker_a;
}

// What ends a fault on the conductor; empty where the plan does not say.
std::optional<Device> device_of(AtPoint const& at) {
    auto const& tap = *at.point->tap;
    auto const kind = tap.protection ? tap.protection
                      : tap.fuse_a   ? std::optional(TapProtection::fuse)
                                     : std::nullopt;
    if (!kind) return std::nullopt;
    switch (*kind) {
        case TapProtection::fuse: return Device{tap.fuse_a, "its own fuse"};
        case TapProtection::breaker:
            return Device{circuit_breaker_a(at), "the breaker of the metered circuit"};
        case TapProtection::panel: return Device{panel_breaker_a(at), "the device in front of the panel"};
        case TapProtection::nothing: return std::nullopt;
    }
    return std::nullopt;
}
bool has_own_fuse(AtPoint const& at) {
    auto const& tap = *at.point->tap;
    return tap.protection == TapProtection::fuse || tap.fuse_a.has_value();
}
bool goes_by_nec(Ground const& ground) { return ground.has_rule_text("tap-10-ft"); }

template <class Look>
void for_each_tap(Ground const& ground, Look const& look) {
    for (auto const& at : ground.points)
        if (at.point->tap) look(at, *at.point->tap);
}

std::optional<Carried> carried(plan::VoltageTap const& tap, Ground const& ground) {
    if (!tap.size) return std::nullopt;
    return carried_by(*tap.size, tap.metal.value_or(plan::Metal::copper), ground.limits);
}

void look_at_nothing(Ground const& ground, Notes& notes) {
    for_each_tap(ground, [&](AtPoint const& at, plan::VoltageTap const& tap) {
        if (tap.protection != TapProtection::nothing) return;
        notes.add(
            {.places = places_of(at), .what = "nothing ends a fault on the conductors of the voltage tap"});
    });
}

void look_at_current(Ground const& ground, Notes& notes) {
    for_each_tap(ground, [&](AtPoint const& at, plan::VoltageTap const& tap) {
        auto const device = device_of(at);
        auto const carries = carried(tap, ground);
        // A tap by the rules of the NEC may be thinner than the device in front; those rules have their own
        // limits.
        if (!device || !device->amperes || !carries || (goes_by_nec(ground) && !has_own_fuse(at))) return;
        double const times = *device->amperes / carries->amperes;
        if (times <= 1.0) return;
        bool const physics = times >= beyond_any_edition;
        auto what = "voltage tap of " + plan::text_of(*tap.size) + " behind " + device->words + " of " +
                    figure(*device->amperes) + " A; the table gives it " + figure(carries->amperes) + " A";
        if (physics)
            what += ", and the device may pass " + figure(times * times) + " times that heat for ever";
        notes.add({.places = places_of(at),
                   .what = std::move(what),
                   .value = device->amperes,
                   .limit = carries->amperes,
                   .unit = "A",
                   .severity = physics ? Severity::stop : Severity::mend,
                   .source = carries->source,
                   .by_physics = physics});
    });
}

// The run that only the device in front protects: up to the tap's own fuse, or all of it.
std::optional<double> unprotected_m(AtPoint const& at) {
    auto const& tap = *at.point->tap;
    return has_own_fuse(at) ? tap.unprotected_m : tap.length_m;
}

// In front of the fuse, the breaker of the circuit or else the panel's; without a fuse what the plan names.
std::optional<double> in_front_a(AtPoint const& at) {
    if (at.point->tap->protection == TapProtection::panel) return panel_breaker_a(at);
    auto const breaker = circuit_breaker_a(at);
    return breaker ? breaker : panel_breaker_a(at);
}

struct NecStep {
    double from_ft = 0.0, to_ft = 0.0;  // the length that this rule serves
    std::string_view words;
};

void look_at_nec_tap(Ground const& ground, Notes& notes, NecStep const& step) {
    if (!goes_by_nec(ground)) return;
    for_each_tap(ground, [&](AtPoint const& at, plan::VoltageTap const& tap) {
        auto const length = unprotected_m(at);
        auto const front = in_front_a(at);
        auto const carries = carried(tap, ground);
        if (!length || !front || !carries || *length <= 0.0) return;
        double const feet = *length / metres_per_foot;
        if (feet <= step.from_ft * 1.0001 || feet > step.to_ft * 1.0001) return;
        double const wanted = *front * notes.limit();
        if (carries->amperes >= wanted) return;
        bool const physics = *front / carries->amperes >= beyond_any_edition && notes.limit() >= 1.0;
        notes.add({.places = places_of(at),
                   .what = "voltage tap of " + plan::text_of(*tap.size) + " carries " +
                           figure(carries->amperes) + " A and runs " + figure(*length) + " m behind " +
                           figure(*front) + " A; " + std::string(step.words) + " it must carry " +
                           figure(wanted) + " A",
                   .value = carries->amperes,
                   .limit = wanted,
                   .unit = "A",
                   .by_physics = physics});
    });
}
void look_at_ten_feet(Ground const& ground, Notes& notes) {
    look_at_nec_tap(ground, notes, {0.0, 10.0, "up to 10 ft"});
}
void look_at_25_feet(Ground const& ground, Notes& notes) {
    look_at_nec_tap(ground, notes, {10.0, 25.0, "up to 25 ft"});
}
void look_beyond_25_feet(Ground const& ground, Notes& notes) {
    look_at_nec_tap(ground, notes, {25.0, 1e9, "beyond 25 ft"});
}

void look_at_three_metres(Ground const& ground, Notes& notes) {
    if (goes_by_nec(ground) || ground.site.region.sizes != plan::SizeSystem::metric) return;
    for_each_tap(ground, [&](AtPoint const& at, plan::VoltageTap const&) {
        if (!has_own_fuse(at)) return;
        auto const length = unprotected_m(at);
        if (!length || *length <= notes.limit()) return;
        notes.add({.places = places_of(at),
                   .what = "voltage tap runs " + figure(*length) + " m in front of its fuse",
                   .value = length,
                   .limit = notes.limit()});
    });
}

void look_at_fault_energy(Ground const& ground, Notes& notes) {
    for_each_tap(ground, [&](AtPoint const& at, plan::VoltageTap const& tap) {
        if (!tap.size || !tap.let_through_a2s ||
            tap.metal.value_or(plan::Metal::copper) != plan::Metal::copper)
            return;
        double const area = plan::area_mm2(*tap.size);
        double const bears = std::pow(notes.limit() * area, 2.0);
        if (*tap.let_through_a2s <= bears) return;
        bool const melts = *tap.let_through_a2s > melts_a2s_per_mm4 * area * area;
        notes.add({.places = places_of(at),
                   .what = "a fault lets " + figure(*tap.let_through_a2s) + " A2s into " +
                           plan::text_of(*tap.size) + ", which bears " + figure(bears) + " A2s (k " +
                           figure(notes.limit()) + ")" + (melts ? "; the copper melts" : ""),
                   .value = tap.let_through_a2s,
                   .limit = bears,
                   .unit = "A2s",
                   .by_physics = melts});
    });
}

void look_at_breaking(Ground const& ground, Notes& notes) {
    for_each_tap(ground, [&](AtPoint const& at, plan::VoltageTap const& tap) {
        if (!tap.breaking_ka || at.panel == nullptr || !at.panel->fault_ka ||
            *tap.breaking_ka >= *at.panel->fault_ka)
            return;
        notes.add({.places = places_of(at),
                   .what = "the fuse of the voltage tap breaks " + figure(*tap.breaking_ka) +
                           " kA, and the panel can give " + figure(*at.panel->fault_ka) + " kA",
                   .value = tap.breaking_ka,
                   .limit = at.panel->fault_ka,
                   .unit = "kA",
                   .by_physics = true});
    });
}

void look_at_smallness(Ground const& ground, Notes& notes) {
    for_each_tap(ground, [&](AtPoint const& at, plan::VoltageTap const&) {
        auto const device = device_of(at);
        if (goes_by_nec(ground) || !device || !device->amperes || *device->amperes <= notes.limit()) return;
        notes.add({.places = places_of(at),
                   .what = "the voltage tap is protected by " + device->words + " of " +
                           figure(*device->amperes) + " A; the inputs draw milliamperes",
                   .value = device->amperes,
                   .limit = notes.limit()});
    });
}

void look_at_instrument_circuit(Ground const& ground, Notes& notes) {
    if (!goes_by_nec(ground)) return;
    for_each_tap(ground, [&](AtPoint const& at, plan::VoltageTap const&) {
        auto const device = device_of(at);
        if (!device || !device->amperes || *device->amperes <= notes.limit()) return;
        notes.add({.places = places_of(at),
                   .what = "the instrument circuit is protected by " + device->words + " of " +
                           figure(*device->amperes) + " A",
                   .value = device->amperes,
                   .limit = notes.limit()});
    });
}

// The user's k, where one is set, is asked for too.
double k_of(Ground const& ground) {
    auto const set = ground.limits.of_rule.find("tap.fault-energy");
    return set == ground.limits.of_rule.end() ? usual_k : set->second.value.value_or(usual_k);
}

void look_at_what_is_open(Ground const& ground, Notes& notes) {
    for_each_tap(ground, [&](AtPoint const& at, plan::VoltageTap const& tap) {
        std::vector<std::string> open;
        if (!tap.size) open.emplace_back("the size of its conductors");
        if (!tap.protection && !tap.fuse_a) open.emplace_back("what protects it");
        auto const device = device_of(at);
        if (device && !device->amperes) open.push_back("the rating of " + device->words);
        if (!unprotected_m(at))
            open.emplace_back(has_own_fuse(at) ? "its length in front of the fuse" : "its length");
        if (at.panel != nullptr && !at.panel->fault_ka)
            open.push_back("the fault current of panel " + at.panel->id);
        if (has_own_fuse(at) && !tap.breaking_ka) open.emplace_back("what its fuse breaks");
        if (!goes_by_nec(ground) && tap.size && !tap.let_through_a2s)
            open.push_back("the I2t that its protection lets through (for k " + figure(k_of(ground)) +
                           " at most " + figure(std::pow(k_of(ground) * plan::area_mm2(*tap.size), 2.0)) +
                           " A2s on " + plan::text_of(*tap.size) + ")");
        if (open.empty()) return;
        notes.add(
            {.places = places_of(at), .what = "of the voltage tap the plan does not say " + named(open)});
    });
}

constexpr auto burns =
    "A tap that outlives its protection burns inside a live panel: do not energise it as planned. Work on "
    "live "
    "parts belongs to qualified people under the local code.";

constexpr std::array rules{
    Rule{.id = "tap.nothing",
         .title = "nothing protects the conductors of the voltage tap",
         .severity = Severity::stop,
         .source = {"derived", "", "a fault on it is ended by the supply of the whole panel",
                    plan::Footing::derived},
         .remedy = "plan a small fuse for each live tap, as near to the conductor as it can be",
         .caution = burns,
         .look = look_at_nothing},
    Rule{.id = "tap.conductor-current",
         .title = "the device that protects the tap is rated above what its conductor carries; stop from "
                  "twice that on",
         .source = {"IEC 60364-4-43", "",
                    "433.1; what it carries: IEC 60364-5-52, Table B.52.2, or NEC Table 310.16",
                    plan::Footing::memory},
         .remedy = "plan a fuse of a few amperes at the tap, or a thicker conductor",
         .caution = burns,
         .look = look_at_current},
    Rule{.id = "tap.ten-feet",
         .title = "a tap of up to 10 ft carries less than a tenth of the device in front",
         .limit =
             RuleLimit{0.1, "of the device in front", "share of its rating that the tap carries, at least"},
         .source = {"NEC", "", "240.21(B)(1)", plan::Footing::seen},
         .remedy = "a thicker tap conductor, or protection at the tap",
         .look = look_at_ten_feet},
    Rule{.id = "tap.twenty-five-feet",
         .title = "a tap of 10 ft to 25 ft carries less than a third of the device in front",
         .limit = RuleLimit{1.0 / 3.0, "of the device in front",
                            "share of its rating that the tap carries, at least"},
         .source = {"NEC", "", "240.21(B)(2)", plan::Footing::seen},
         .remedy = "protection nearer to the tap, within 10 ft, or a thicker conductor",
         .look = look_at_25_feet},
    Rule{.id = "tap.beyond-twenty-five-feet",
         .title = "a tap of more than 25 ft carries less than the device in front",
         .limit =
             RuleLimit{1.0, "of the device in front", "share of its rating that the tap carries, at least"},
         .source = {"NEC", "", "240.21(B)", plan::Footing::seen},
         .remedy = "protection nearer to the tap, within 10 ft",
         .look = look_beyond_25_feet},
    Rule{.id = "tap.three-metres",
         .title = "the run in front of the tap's fuse is long",
         .limit = RuleLimit{3.0, "m", "of the run in front of the fuse, at most"},
         .source = {"IEC 60364-4-43", "", "433.2.2, 434.2.1", plan::Footing::memory},
         .remedy = "move the fuse towards the tap; no branch, nothing that burns near the run",
         .look = look_at_three_metres},
    Rule{.id = "tap.fault-energy",
         .title = "the device lets more energy through in a fault than the conductor bears; stop for what "
                  "melts copper",
         .severity = Severity::stop,
         .limit = RuleLimit{usual_k, "A s^1/2/mm2", "k, copper in PVC: I2t at most k2 S2"},
         .source = {"IEC 60364-4-43", "", "434.5.2", plan::Footing::memory},
         .remedy = "a fuse that lets less through, or a thicker conductor",
         .caution = burns,
         .look = look_at_fault_energy},
    Rule{.id = "tap.breaking",
         .title = "the fuse cannot break the panel's fault current",
         .severity = Severity::stop,
         .source = {"IEC 60364-4-43", "", "434.5.1; NEC 110.9", plan::Footing::memory},
         .remedy = "a fuse with a breaking capacity above the fault current",
         .caution = "A fuse that is asked to break more than it can bursts: do not energise the tap with it.",
         .look = look_at_breaking},
    Rule{.id = "tap.small",
         .title = "the tap's protection is large for milliamperes",
         .severity = Severity::mind,
         .limit = RuleLimit{10.0, "A", "of the protection, at most"},
         .source = {"common practice", "", "", plan::Footing::practice},
         .remedy = "protection as small as practical",
         .look = look_at_smallness},
    Rule{.id = "tap.instrument-circuit",
         .title = "an instrument circuit in a panelboard is protected by more than its code allows",
         .limit = RuleLimit{15.0, "A", "of the protection, at most"},
         .source = {"NEC", "", "408.52", plan::Footing::memory},
         .remedy = "a smaller fuse",
         .look = look_at_instrument_circuit},
    Rule{.id = "tap.not-said",
         .title = "the plan does not say what a tap's protection is judged by",
         .severity = Severity::mind,
         .source = {"derived", "", "unknown data are asked for, not guessed", plan::Footing::derived},
         .remedy = "ask for it, or read it from the device and its curve",
         .look = look_at_what_is_open},
};
}  // namespace

std::span<Rule const> tap_rules() { return rules; }

}  // namespace phasewright::checks
