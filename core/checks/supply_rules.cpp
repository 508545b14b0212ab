// What keeps the meters alive. A supply gives what it is rated for; every meter on it takes its own, and the
// wire in between takes a part of the voltage:
//   need   = sum of the meters' W (dc) or VA (ac)
//   at the meter = U - 2 l r P / U, r per metre of one conductor, P of this meter (its own run from the
//   supply)
#include <algorithm>
#include <array>

#include "core/chain/conductor.hpp"
#include "core/checks/notes.hpp"
#include "core/checks/rule.hpp"

namespace phasewright::checks {
namespace {
using plan::CurrentKind;

plan::MeterSupply const* needs_of(AtPoint const& at) {
    auto const* const hardware = at.hardware();
    return hardware == nullptr || !hardware->supply ? nullptr : &*hardware->supply;
}

// W on dc, VA on ac; the other one where only that is known. The profile knows, else the plan says.
std::optional<double> taken(AtPoint const& at, CurrentKind kind) {
    auto const* const meter = needs_of(at);
    auto const& feed = *at.point->supply;
    auto const watts = meter != nullptr && meter->power_w ? meter->power_w : feed.power_w;
    auto const volt_amperes = meter != nullptr && meter->power_va ? meter->power_va : feed.power_va;
    auto const& own = kind == CurrentKind::dc ? watts : volt_amperes;
    return own ? own : kind == CurrentKind::dc ? volt_amperes : watts;
}
std::string_view unit_of(CurrentKind kind) { return kind == CurrentKind::dc ? "W" : "VA"; }

std::vector<Place> places_of(OnSupply const& on) {
    std::vector<Place> places{{PlaceKind::supply, on.supply->id}};
    for (auto const* at : on.meters) places.push_back(at_point(*at));
    return places;
}
Place at_supply(plan::ControlSupply const& supply) { return {PlaceKind::supply, supply.id}; }

struct Need {
    double sum = 0.0;
    std::size_t known = 0;
    std::vector<std::string> unknown;
};
Need need_of(OnSupply const& on) {
    Need need;
    for (auto const* at : on.meters) {
        auto const power = taken(*at, on.supply->kind);
        if (!power) need.unknown.push_back(at->point->id);
        need.sum += power.value_or(0.0);
        need.known += power ? 1 : 0;
    }
    return need;
}
std::string need_words(OnSupply const& on, Need const& need) {
    auto words = std::to_string(need.known) + (need.known == 1 ? " meter takes " : " meters take ") +
                 figure(need.sum) + " " + std::string(unit_of(on.supply->kind));
    if (!need.unknown.empty())
        words += " (and " + std::to_string(need.unknown.size()) + " that is not known)";
    return words;
}

void look_at_power(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.supplies) {
        auto const need = need_of(on);
        if (!on.supply->available_va || need.sum <= *on.supply->available_va) continue;
        notes.add({.places = places_of(on),
                   .what = need_words(on, need) + " and the supply gives " + figure(*on.supply->available_va),
                   .value = need.sum,
                   .limit = on.supply->available_va,
                   .unit = std::string(unit_of(on.supply->kind))});
    }
}

void look_at_margin(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.supplies) {
        auto const need = need_of(on);
        if (!on.supply->available_va || need.sum > *on.supply->available_va) continue;
        double const wanted = need.sum * (1.0 + notes.limit() / 100.0);
        if (wanted <= *on.supply->available_va) continue;
        notes.add({.places = places_of(on),
                   .what = need_words(on, need) + ", with " + figure(notes.limit()) + " % more " +
                           figure(wanted) + ", and the supply gives " + figure(*on.supply->available_va),
                   .value = wanted,
                   .limit = on.supply->available_va,
                   .unit = std::string(unit_of(on.supply->kind))});
    }
}

void look_at_what_is_open(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.supplies) {
        auto const need = need_of(on);
        if (!on.supply->available_va && !on.meters.empty())
            notes.add({.places = places_of(on),
                       .what = "the plan does not say what the supply gives; " + need_words(on, need)});
        if (!need.unknown.empty())
            notes.add({.places = places_of(on),
                       .what = "it is not known what these meters take: " + named(need.unknown)});
    }
}

void look_at_inrush(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.supplies) {
        if (!on.supply->inrush_a) continue;
        double sum = 0.0;
        for (auto const* at : on.meters)
            if (auto const* const meter = needs_of(*at)) sum += meter->inrush_a.value_or(0.0);
        if (sum <= *on.supply->inrush_a) continue;
        notes.add({.places = places_of(on),
                   .what = "switched on together the meters draw " + figure(sum) +
                           " A for a moment, and the supply gives " + figure(*on.supply->inrush_a) + " A",
                   .value = sum,
                   .limit = on.supply->inrush_a,
                   .unit = "A"});
    }
}

std::string range_words(plan::Between const& range) {
    return figure(range.least) + " to " + figure(range.most) + " V";
}
bool within(plan::Between const& range, double volts) { return volts >= range.least && volts <= range.most; }

// A supply of its own, against what the meter can live on.
std::optional<Note> judged(AtPoint const& at, plan::MeterSupply const& meter,
                           plan::ControlSupply const& supply) {
    auto const kind = std::string(plan::name_of(supply.kind));
    auto const range = supply.kind == CurrentKind::ac ? meter.ac_v : meter.dc_v;
    auto const planned = figure(supply.volts) + " V " + kind + " for " + at.point->meter_profile;
    if (meter.kind == plan::SupplyKind::voltage_inputs)
        return Note{.what = planned +
                            ", which lives on the voltages that it measures and has no other terminals"};
    if (!range || (meter.kind != plan::SupplyKind::ac_or_dc &&
                   (meter.kind == plan::SupplyKind::ac) != (supply.kind == CurrentKind::ac)))
        return Note{.what = planned + ", which is made for " + std::string(plan::name_of(meter.kind)),
                    .severity = Severity::stop,
                    .by_physics = true};
    if (within(*range, supply.volts)) return std::nullopt;
    bool const over = supply.volts > range->most;
    return Note{.what = planned + ", which is made for " + range_words(*range),
                .value = supply.volts,
                .limit = over ? range->most : range->least,
                .unit = "V",
                .severity = over ? Severity::stop : Severity::mend};
}

void look_at_voltage(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        auto const* const meter = needs_of(at);
        if (meter == nullptr || !at.point->supply) continue;
        if (at.supply != nullptr) {
            auto note = judged(at, *meter, *at.supply);
            if (!note) continue;
            note->places = {at_point(at), at_supply(*at.supply)};
            notes.add(std::move(*note));
        } else if (meter->kind != plan::SupplyKind::voltage_inputs && at.panel != nullptr) {
            auto const& nominal = at.panel->nominal;
            bool const fits =
                meter->ac_v && (within(*meter->ac_v, nominal.v_ln) || within(*meter->ac_v, nominal.v_ll));
            if (fits) continue;
            notes.add({.places = checks::places_of(at),
                       .what = at.point->meter_profile +
                               " is to be fed from the voltages that it measures (" + figure(nominal.v_ln) +
                               " and " + figure(nominal.v_ll) + " V ac) and takes " +
                               (meter->ac_v ? range_words(*meter->ac_v) : std::string("dc only"))});
        }
    }
}

// Volts lost in both wires of this meter's run.
std::optional<double> drop_of(AtPoint const& at) {
    if (at.supply == nullptr || !at.point->supply->size || at.point->supply->length_m <= 0.0)
        return std::nullopt;
    auto const power = taken(at, at.supply->kind);
    if (!power) return std::nullopt;
    auto const wire = chain::resistance_of({.size = *at.point->supply->size});
    return 2.0 * at.point->supply->length_m / 1000.0 * wire.ohm_per_km * *power / at.supply->volts;
}

void look_at_drop(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        auto const drop = drop_of(at);
        if (!drop) continue;
        auto const* const meter = needs_of(at);
        auto const range = meter == nullptr                     ? std::optional<plan::Between>()
                           : at.supply->kind == CurrentKind::ac ? meter->ac_v
                                                                : meter->dc_v;
        double const left = at.supply->volts - *drop;
        double const percent = 100.0 * *drop / at.supply->volts;
        auto const run = figure(at.point->supply->length_m) + " m of " +
                         plan::text_of(*at.point->supply->size) + " take " + figure(*drop) + " V of " +
                         figure(at.supply->volts) + " V";
        if (range && left < range->least && at.supply->volts >= range->least)
            notes.add({.places = {at_point(at), at_supply(*at.supply)},
                       .what = run + ": " + figure(left) + " V are left, and " + at.point->meter_profile +
                               " needs " + figure(range->least) + " V",
                       .value = left,
                       .limit = range->least,
                       .unit = "V"});
        else if (percent > notes.limit())
            notes.add({.places = {at_point(at), at_supply(*at.supply)},
                       .what = run + ", " + figure(percent) + " %",
                       .value = percent,
                       .limit = notes.limit(),
                       .unit = "%",
                       .severity = Severity::mind});
    }
}

void look_at_polarity(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.supplies) {
        if (on.supply->kind != CurrentKind::dc) continue;
        for (auto const* at : on.meters)
            if (at->point->supply->polarity == plan::Polarity::crossed)
                notes.add({.places = {at_point(*at), at_supply(*on.supply)},
                           .what = "plus and minus of " + figure(on.supply->volts) +
                                   " V dc are crossed at the meter"});
    }
}

void look_at_polarity_not_said(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.supplies) {
        // An isolated meter on ac does not care; one that is tied to the common of its bus does.
        std::vector<std::string> open;
        for (auto const* at : on.meters)
            if (!at->point->supply->polarity &&
                (on.supply->kind == CurrentKind::dc || is_tied_to_common(*at)))
                open.push_back(at->point->id);
        if (open.empty()) continue;
        notes.add({.places = {at_supply(*on.supply)},
                   .what = "the plan does not say which way round the supply lands on: " + named(open)});
    }
}

void look_at_fuse(Ground const& ground, Notes& notes) {
    for (auto const& at : ground.points) {
        auto const* const meter = needs_of(at);
        if (meter == nullptr || !meter->fuse_a || at.supply == nullptr || !at.supply->fuse_a ||
            *at.supply->fuse_a <= *meter->fuse_a)
            continue;
        notes.add({.places = {at_point(at), at_supply(*at.supply)},
                   .what = "the supply is fused with " + figure(*at.supply->fuse_a) + " A, and " +
                           at.point->meter_profile + " wants at most " + figure(*meter->fuse_a) +
                           " A in front of it",
                   .value = at.supply->fuse_a,
                   .limit = meter->fuse_a,
                   .unit = "A"});
    }
}

constexpr auto profile_says = RuleSource{"the meter's profile", "", "supply", plan::Footing::seen};

constexpr std::array rules{
    Rule{.id = "supply.power",
         .title = "the meters take more than the supply gives",
         .source = {"the meters' profiles and the plan", "", "sum of W (dc) or VA (ac)",
                    plan::Footing::derived},
         .remedy = "a larger supply, or a second one for some of the meters",
         .look = look_at_power},
    Rule{.id = "supply.margin",
         .title = "the supply has little in hand",
         .severity = Severity::mind,
         .limit = RuleLimit{25.0, "%", "more than the meters take, at least"},
         .source = {"common practice", "", "", plan::Footing::practice},
         .remedy = "a larger supply: it ages, and it gets warm",
         .look = look_at_margin},
    Rule{.id = "supply.not-said",
         .title = "what a supply gives or a meter takes is not known",
         .severity = Severity::mind,
         .source = {"derived", "", "unknown data are asked for, not guessed", plan::Footing::derived},
         .remedy = "say available_va in the plan, power_w and power_va in the profile",
         .look = look_at_what_is_open},
    Rule{.id = "supply.inrush",
         .title = "the meters draw more at switching on than the supply gives",
         .source = {"the meters' profiles and the plan", "", "sum of inrush_a", plan::Footing::derived},
         .remedy = "switch them on in groups, or a supply that bears it",
         .look = look_at_inrush},
    Rule{.id = "supply.voltage",
         .title = "the meter cannot live on the planned supply; stop where it is more than it bears, or of "
                  "the wrong kind",
         .source = profile_says,
         .remedy = "a supply for this meter, or a meter for this supply",
         .caution = "A supply of the wrong kind or above the meter's range can destroy it and what it "
                    "isolates: leave it unconnected.",
         .look = look_at_voltage},
    Rule{.id = "supply.drop",
         .title = "the wire takes so much that the meter gets too little; mind where it is a large part",
         .limit = RuleLimit{5.0, "%", "of the supply's voltage lost in the wire, at most, for a mind"},
         .source = {"the meter's profile and IEC 60228", "2004", "resistance at 20 degrees C",
                    plan::Footing::seen},
         .remedy = "a thicker or shorter wire, or a supply with a higher voltage",
         .look = look_at_drop},
    Rule{.id = "supply.polarity",
         .title = "a dc supply is crossed at the meter",
         .source = {"derived", "", "a dc supply has a plus and a minus", plan::Footing::derived},
         .remedy = "exchange the two wires at the meter, with the supply off",
         .look = look_at_polarity},
    Rule{.id = "supply.polarity-not-said",
         .title = "the plan does not say which way round a supply lands on its meters",
         .severity = Severity::mind,
         .source = {"derived", "", "meters that share a supply share its negative only where all land alike",
                    plan::Footing::derived},
         .remedy = "land them all alike, mark both wires, and say polarity in the plan",
         .look = look_at_polarity_not_said},
    Rule{.id = "supply.fuse",
         .title = "the fuse in front of the meter's supply is larger than its maker allows",
         .source = profile_says,
         .remedy = "a smaller fuse in front of this meter",
         .look = look_at_fuse},
};
}  // namespace

std::span<Rule const> supply_rules() { return rules; }

}  // namespace phasewright::checks
