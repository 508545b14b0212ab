#include "core/design/choose_tap.hpp"

#include <algorithm>
#include <cmath>

#include "core/design/choose_ct.hpp"
#include "core/design/words.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::design {

namespace {
constexpr double metres_per_foot = 0.3048;

double line_volts(plan::Nominal const& nominal) { return nominal.v_ll > 0.0 ? nominal.v_ll : nominal.v_ln; }
std::string whole(double value) {
    return quantity::shortest(value < 10.0 ? std::round(value * 10.0) / 10.0 : std::round(value));
}

struct Takes {
    double amperes = 0.0;  // each phase
    double va = 0.0;       // all phases
};
Takes taken_by(TapNeed const& need) {
    auto const model = plan::model_of(need.point->service, need.point->model_options);
    double const phases = std::max<double>(1.0, static_cast<double>(model.terminals.size()));
    double const volts =
        std::max(1.0, need.panel->nominal.v_ln > 0.0 ? need.panel->nominal.v_ln : need.panel->nominal.v_ll);
    double const each = need.meter != nullptr && need.meter->voltage_inputs
                            ? need.meter->voltage_inputs->burden_va.value_or(0.1)
                            : 0.1;
    // A meter that lives on its inputs may take all of it from one of them.
    double const own = need.feeds_meter && need.meter != nullptr && need.meter->supply
                           ? need.meter->supply->power_va.value_or(10.0)
                           : 0.0;
    return {(each + own) / volts, each * phases + own};
}

std::string fuse_words(FuseOffer const& fuse) {
    return amps(fuse.rated_a) + " fuse, " + quantity::shortest(fuse.breaking_ka) + " kA at " +
           quantity::shortest(fuse.volts) + " V (" + (fuse.maker.empty() ? "" : fuse.maker + " ") +
           fuse.model + ")";
}

std::string against_fuse(FuseOffer const& fuse, TapNeed const& need, double takes_a,
                         Settings const& settings) {
    auto const& tap = need.point->tap;
    if (tap && tap->fuse_a && std::abs(*tap->fuse_a - fuse.rated_a) > 1e-9)
        return "the plan has decided on " + amps(*tap->fuse_a);
    double const volts = line_volts(need.panel->nominal);
    if (fuse.volts < volts)
        return "it is rated " + quantity::shortest(fuse.volts) + " V, and the lines have " +
               quantity::shortest(volts) + " V";
    if (need.panel->fault_ka && fuse.breaking_ka < *need.panel->fault_ka)
        return "it breaks " + quantity::shortest(fuse.breaking_ka) + " kA, and the panel can give " +
               quantity::shortest(*need.panel->fault_ka) + " kA";
    if (fuse.rated_a < settings.fuse_margin * takes_a)
        return "the inputs take " + amps(takes_a) + ", and a quarter is to spare";
    return {};
}

std::string against_wire(WireOffer const& wire, FuseOffer const& fuse, TapNeed const& need) {
    auto const size = plan::text_of(wire.size);
    if (wire.ampacity_a && fuse.rated_a > *wire.ampacity_a)
        return size + " carries " + amps(*wire.ampacity_a) + ", less than the fuse";
    if (need.ten_feet && wire.ampacity_a && need.breaker_a && *wire.ampacity_a < *need.breaker_a / 10.0)
        return size + " carries " + amps(*wire.ampacity_a) + ", less than a tenth of the " +
               amps(*need.breaker_a) + " in front";
    if (fuse.let_through_a2s && wire.k) {
        double const area = plan::area_mm2(wire.size);
        double const bears = *wire.k * *wire.k * area * area;
        if (*fuse.let_through_a2s > bears)
            return "the fuse lets " + whole(*fuse.let_through_a2s) + " A2s through, and " + size + " bears " +
                   whole(bears) + " A2s";
    }
    return {};
}

std::vector<WireOffer> wires_for_tap(TapNeed const& need, Catalogue const& catalogue) {
    std::vector<WireOffer> wires;
    auto const& tap = need.point->tap;
    if (tap && tap->size) {  // decided: what the catalogue knows of this size goes along
        WireOffer decided{.size = *tap->size,
                          .metal = tap->metal.value_or(plan::Metal::copper),
                          .strands = tap->strands.value_or(plan::Strands::stranded)};
        for (auto const& wire : catalogue.wires)
            if (wire.size == decided.size && wire.metal == decided.metal) {
                decided.k = wire.k;
                decided.ampacity_a = wire.ampacity_a;
            }
        return {decided};
    }
    for (auto const* const wire : wires_for_use(catalogue, plan::WireUse::voltage, need.sizes, need.meter,
                                                line_volts(need.panel->nominal)))
        wires.push_back(*wire);
    return wires;
}

std::vector<FuseOffer const*> by_rating(Catalogue const& catalogue) {
    std::vector<FuseOffer const*> fuses;
    for (auto const& fuse : catalogue.fuses) fuses.push_back(&fuse);
    // Of one rating the one that breaks most: nothing speaks against more.
    std::ranges::stable_sort(fuses, [](FuseOffer const* a, FuseOffer const* b) {
        if (a->rated_a != b->rated_a) return a->rated_a < b->rated_a;
        if (a->breaking_ka != b->breaking_ka) return a->breaking_ka > b->breaking_ka;
        return a->model < b->model;
    });
    return fuses;
}

void describe(TapChoice& choice, TapNeed const& need, FuseOffer const& fuse, WireOffer const& wire,
              Takes const& takes, Settings const& settings) {
    auto tap = need.point->tap.value_or(plan::VoltageTap{});
    if (!tap.length_m)
        choice.assumed.push_back("a tap of " + metres(settings.tap_m) + " from conductor to meter");
    tap.length_m = tap.length_m.value_or(settings.tap_m);
    if (!tap.unprotected_m)
        choice.assumed.push_back("the fuse within " + metres(settings.tap_to_fuse_m) + " of the conductor");
    tap.unprotected_m = std::min(tap.unprotected_m.value_or(settings.tap_to_fuse_m), *tap.length_m);
    tap.size = wire.size;
    tap.metal = wire.metal;
    tap.strands = wire.strands;
    tap.protection = plan::TapProtection::fuse;
    tap.fuse_a = fuse.rated_a;
    tap.breaking_ka = fuse.breaking_ka;
    tap.let_through_a2s = fuse.let_through_a2s;
    choice.words = fuse_words(fuse) + " and " + wire_words(wire);
    auto& reasons = choice.reasons;
    reasons.push_back("the inputs take " + amps(takes.amperes) +
                      "; the lowest rating that carries it is as small as practical");
    if (need.panel->fault_ka)
        reasons.push_back("it breaks " + quantity::shortest(fuse.breaking_ka) +
                          " kA, not below the panel's " + quantity::shortest(*need.panel->fault_ka) + " kA");
    else
        choice.assumed.emplace_back(
            "that the fuse breaks what the panel can give: its fault current is not in the plan");
    if (fuse.let_through_a2s && wire.k) {
        double const area = plan::area_mm2(wire.size);
        reasons.push_back(
            "it lets " + whole(*fuse.let_through_a2s) + " A2s through, and the wire bears k2 S2 = " +
            whole(*wire.k * *wire.k * area * area) + " A2s (IEC 60364-4-43, 434.5.2, edition in force)");
    }
    if (wire.ampacity_a)
        reasons.push_back("the wire carries " + amps(*wire.ampacity_a) + " for ever, by the catalogue");
    if (need.ten_feet && need.breaker_a && wire.ampacity_a)
        reasons.push_back("that is not below a tenth of the " + amps(*need.breaker_a) +
                          " in front, for a run of 10 ft at most (NEC 240.21(B)(1))");
    double const longest = need.ten_feet ? 10.0 * metres_per_foot : settings.iec_run_m;
    reasons.push_back(metres(*tap.unprotected_m) + " in front of the fuse are " +
                      (*tap.unprotected_m > longest + 1e-9 ? "more" : "not more") + " than " +
                      metres(longest));
    choice.tap = tap;
}
}  // namespace

bool is_whole(plan::VoltageTap const& tap) {
    if (tap.protection && *tap.protection != plan::TapProtection::fuse) return tap.size.has_value();
    return tap.size && tap.length_m && tap.unprotected_m && tap.fuse_a && tap.breaking_ka;
}

TapChoice choose_tap(TapNeed const& need, Catalogue const& catalogue, Settings const& settings) {
    TapChoice choice;
    auto const takes = taken_by(need);
    choice.va = takes.va;
    auto const wires = wires_for_tap(need, catalogue);
    auto const note = [&](std::string words, std::string why) {
        if (choice.others.size() < settings.others)
            choice.others.push_back({std::move(words), std::move(why)});
    };
    if (wires.empty())
        note("any fuse", "the catalogue has no wire for voltages that the meter's terminals take");
    for (auto const* const fuse : by_rating(catalogue)) {
        if (auto why = against_fuse(*fuse, need, takes.amperes, settings); !why.empty()) {
            note(fuse_words(*fuse), std::move(why));
            continue;
        }
        if (choice.tap) {
            note(fuse_words(*fuse), fuse->rated_a > *choice.tap->fuse_a
                                        ? "it is greater than needed"
                                        : "another of this rating breaks as much or more");
            continue;
        }
        for (auto const& wire : wires) {
            auto why = against_wire(wire, *fuse, need);
            if (why.empty()) {
                describe(choice, need, *fuse, wire, takes, settings);
                break;
            }
            note(fuse_words(*fuse) + " with " + wire_words(wire), std::move(why));
        }
    }
    return choice;
}

}  // namespace phasewright::design
