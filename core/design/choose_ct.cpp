#include "core/design/choose_ct.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include "core/chain/burden.hpp"
#include "core/chain/low_power.hpp"
#include "core/chain/window_fit.hpp"
#include "core/design/words.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::design {

namespace {
using plan::CtOutput;

constexpr double rank_step_percent = 0.01;
constexpr double most_loading_percent =
    0.1;  // of a voltage output by lead and input: a tenth of a class of 1; ours

// A candidate, and the first thing that speaks against it.
struct Candidate {
    CtOffer const* offer = nullptr;
    plan::CurrentInput const* input = nullptr;
    std::optional<EnergyBound> bound;
};

std::string output_words(CtOutput output) { return std::string{plan::name_of(output)}; }
double line_volts(plan::Panel const& panel) {
    return panel.nominal.v_ll > 0.0 ? panel.nominal.v_ll : panel.nominal.v_ln;
}

// --- what a look into the catalogue tells ---

std::string against_input(CtOffer const& offer, plan::CurrentInput const* input, LoadProfile const& load) {
    if (input == nullptr)
        return "the meter's inputs do not take an output of " + output_words(offer.ct.output);
    double const rated = offer.ct.ratio.secondary;
    if (std::abs(rated - input->rated) > 0.01 * input->rated)
        return "it gives " + quantity::shortest(rated) + " where the meter's input is rated " +
               quantity::shortest(input->rated);
    double const highest = load.most_a() / offer.ct.ratio.factor();
    if (input->most && highest > *input->most)
        return "the highest current of " + amps(load.most_a()) + " gives " + quantity::fixed(highest, 2) +
               " at an input that bears " + quantity::shortest(*input->most);
    return {};
}

std::string against_rating(CtOffer const& offer, CtNeed const& need) {
    double const primary = offer.ct.ratio.primary;
    if (need.breaker_a && primary < *need.breaker_a)
        return "rated primary " + amps(primary) + " is below the breaker's " + amps(*need.breaker_a) +
               " (common practice)";
    double const most = primary * offer.ct.most_percent.value_or(100.0) / 100.0;
    if (need.load.most_a() > most)
        return "the load goes up to " + amps(need.load.most_a()) + ", and it carries " + amps(most) +
               " for ever";
    auto const& nominal = need.panel->nominal;
    if (offer.highest_v && line_volts(*need.panel) > *offer.highest_v)
        return "its insulation is rated " + quantity::shortest(*offer.highest_v) +
               " V, below the line voltage";
    if (offer.ct.output == CtOutput::coil && offer.rated_hz && std::abs(*offer.rated_hz - nominal.hz) > 0.5)
        return "the coil is rated at " + quantity::shortest(*offer.rated_hz) + " Hz, and the supply has " +
               quantity::shortest(nominal.hz) + " Hz";
    return {};
}

// --- what has to be computed ---

std::string against_window(CtOffer const& offer, CtNeed const& need, CtChoice& choice) {
    auto const cables = chain::phase_cables(*need.point);
    if (!cables) {
        choice.assumed.emplace_back(
            "that the cables go through the window: the plan does not say how thick they are");
        return {};
    }
    auto const count = std::to_string(cables->diameters_mm.size()) +
                       (cables->diameters_mm.size() == 1 ? " cable" : " cables");
    auto const words = count + " of " + quantity::fixed(cables->diameters_mm.front(), 1) + " mm";
    if (!offer.ct.window) return "the catalogue does not say its window, and " + words + " must go through";
    auto const fit = chain::window_fit(*offer.ct.window, cables->diameters_mm);
    auto const& window = *offer.ct.window;
    auto const opening = window.round ? quantity::shortest(window.width_mm) + " mm round"
                                      : quantity::shortest(window.width_mm) + " x " +
                                            quantity::shortest(window.height_mm) + " mm";
    if (!fit.fits)
        return "its window of " + opening + (fit.proven ? " does not take " : " was not found to take ") +
               words + " with 5 % to spare";
    choice.reasons.push_back("its window of " + opening + " takes " + words + ", which could be " +
                             quantity::fixed(100.0 * fit.room, 0) + " % thicker");
    return {};
}

std::string burden_words(chain::Burden const& burden) {
    auto words = quantity::fixed(burden.total_va, 2) + " VA";
    if (burden.range)
        words += ", and the class holds from " + quantity::fixed(burden.range->least_va, 2) + " to " +
                 quantity::fixed(burden.range->most_va, 2) + " VA (" + chain::words_of(burden.range_source) +
                 ")";
    return words;
}

plan::Lead lead_of(CtNeed const& need, Settings const& settings, WireOffer const* wire) {
    plan::Lead lead = need.point->lead.value_or(plan::Lead{.length_m = settings.lead_m});
    if (wire != nullptr && !lead.size) {
        lead.size = wire->size;
        lead.metal = wire->metal;
        lead.strands = wire->strands;
    }
    if (!lead.way_back) lead.way_back = plan::Return::own;
    return lead;
}

std::vector<WireOffer const*> lead_wires(CtNeed const& need, Catalogue const& catalogue) {
    if (need.point->lead && need.point->lead->size) return {nullptr};  // as the plan has it
    return wires_for_use(catalogue, plan::WireUse::current, need.sizes, need.meter, line_volts(*need.panel));
}

// A burden near its highest leaves nothing for a joint that ages; a fifth to spare is asked for first. Ours.
constexpr double burden_to_spare = 0.8;

std::string against_loop(Candidate const& one, CtNeed const& need, std::vector<WireOffer const*> const& wires,
                         Settings const& settings, CtChoice& choice) {
    std::string why = "the catalogue has no wire for its lead that the meter's terminals take";
    std::optional<plan::Lead> tight;
    chain::Burden tight_burden;
    auto const take = [&](plan::Lead const& lead, chain::Burden const& burden) {
        choice.lead = lead;
        if (burden.state == chain::BurdenState::not_known)
            choice.assumed.emplace_back(
                "that the burden is within what the class holds for: its rated output or the input's VA is "
                "not said");
        else
            choice.reasons.push_back(metres(lead.length_m) +
                                     (lead.size ? " of " + plan::text_of(*lead.size) : "") +
                                     ", contacts and meter make " + burden_words(burden));
        return std::string{};
    };
    for (auto const* const wire : wires) {
        auto const lead = lead_of(need, settings, wire);
        auto const burden = chain::burden_of(one.offer->ct, lead, one.input);
        auto const size = lead.size ? plan::text_of(*lead.size) : std::string{"an unknown size"};
        if (burden.state == chain::BurdenState::over) {
            why = "lead, contacts and meter make " + burden_words(burden) + " even with " + size;
            continue;
        }
        if (burden.state == chain::BurdenState::under) {
            // A thicker lead would only take more away.
            if (!tight)
                why = metres(lead.length_m) + " of " + size + ", contacts and meter make only " +
                      burden_words(burden);
            break;
        }
        if (!burden.range || burden.total_va <= burden_to_spare * burden.range->most_va)
            return take(lead, burden);
        if (!tight) {
            tight = lead;
            tight_burden = burden;
        }
    }
    return tight ? take(*tight, tight_burden) : why;
}

std::string against_voltage_output(Candidate const& one, CtNeed const& need,
                                   std::vector<WireOffer const*> const& wires, Settings const& settings,
                                   CtChoice& choice) {
    double const length = need.point->lead ? need.point->lead->length_m : settings.lead_m;
    auto const own = one.offer->own_lead_m.value_or(0.0);
    bool const is_coil = one.offer->ct.output == CtOutput::coil;
    if (own >= length) {
        if (need.point->lead) choice.lead = need.point->lead;
        if (is_coil) choice.lead.reset();
        choice.reasons.push_back("its own lead of " + metres(own) + " reaches over " + metres(length) +
                                 ", and nothing is joined to it");
        return {};
    }
    if (is_coil)
        return "its own lead is " + metres(own) + " long, " + metres(length) +
               " are needed, and a coil's lead is not lengthened without calibrating it anew";
    std::string why = "the catalogue has no wire for its lead that the meter's terminals take";
    for (auto const* const wire : wires) {
        auto const lead = lead_of(need, settings, wire);
        auto const circuit = chain::voltage_circuit(one.offer->ct, lead, one.input, one.offer->source_ohm,
                                                    {.current_a = 0.0, .hz = need.panel->nominal.hz});
        if (circuit.loading_percent && std::abs(*circuit.loading_percent) > most_loading_percent) {
            why = "lead and source take " + percent(std::abs(*circuit.loading_percent)) +
                  " of its volts away at the meter's input";
            continue;
        }
        choice.lead = lead;
        if (circuit.loading_percent)
            choice.reasons.push_back("lead and input take " +
                                     quantity::fixed(std::abs(*circuit.loading_percent), 3) +
                                     " % of its volts away");
        return {};
    }
    return why;
}

std::string against_milliamperes(Candidate const& one, CtNeed const& need,
                                 std::vector<WireOffer const*> const& wires, Settings const& settings,
                                 CtChoice& choice) {
    std::string why = "the catalogue has no wire for its lead that the meter's terminals take";
    for (auto const* const wire : wires) {
        auto const lead = lead_of(need, settings, wire);
        auto const circuit =
            chain::milliampere_circuit(one.offer->ct, lead, one.input, one.offer->compliance_v);
        if (circuit.within == false) {
            why = "lead and burden need " + quantity::fixed(circuit.needed_v.value_or(0.0), 2) +
                  " V, and it drives " + quantity::fixed(circuit.compliance_v.value_or(0.0), 2) + " V";
            continue;
        }
        choice.lead = lead;
        if (circuit.within)
            choice.reasons.push_back("lead and burden need " + quantity::fixed(*circuit.needed_v, 2) +
                                     " V of the " + quantity::fixed(*circuit.compliance_v, 2) +
                                     " V that it drives");
        else
            choice.assumed.emplace_back(
                "that it drives its current through lead and burden: its voltage is not said");
        return {};
    }
    return why;
}

std::string against_lead(Candidate const& one, CtNeed const& need, std::vector<WireOffer const*> const& wires,
                         Settings const& settings, CtChoice& choice) {
    if (!need.point->lead)
        choice.assumed.push_back("a lead of " + metres(settings.lead_m) + " from CT to meter");
    auto const output = one.offer->ct.output;
    if (plan::is_current_loop(output)) return against_loop(one, need, wires, settings, choice);
    if (output == CtOutput::milliamperes) return against_milliamperes(one, need, wires, settings, choice);
    return against_voltage_output(one, need, wires, settings, choice);
}

// --- ranking ---

double rounded_bound(Candidate const& one) {
    return one.bound ? std::round(one.bound->over_load_percent / rank_step_percent) : 1e12;
}
double opening(Candidate const& one) {
    auto const& window = one.offer->ct.window;
    return window ? window->width_mm * window->height_mm : 1e12;
}
bool goes_first(Candidate const& a, Candidate const& b) {
    if (rounded_bound(a) != rounded_bound(b)) return rounded_bound(a) < rounded_bound(b);
    if (a.offer->ct.ratio.primary != b.offer->ct.ratio.primary)
        return a.offer->ct.ratio.primary < b.offer->ct.ratio.primary;
    if (opening(a) != opening(b)) return opening(a) < opening(b);
    return a.offer->ct.model < b.offer->ct.model;
}

std::string bound_words(Candidate const& one) {
    if (!one.bound) return "no limit of error is known for its class";
    return "its class and the meter's let the energy of this load be wrong by " +
           percent(one.bound->over_load_percent) + " at most";
}

void add_reasons(Candidate const& one, CtNeed const& need, CtChoice& choice) {
    auto& reasons = choice.reasons;
    if (one.bound) {
        reasons.insert(reasons.begin(), bound_words(one) + ", " + percent(one.bound->usual_percent) +
                                            " at the usual " + amps(need.load.usual_a()));
        if (one.bound->unproven_below_a)
            reasons.push_back("below " + amps(*one.bound->unproven_below_a) +
                              " its class promises nothing: what the load takes there is unproven");
    } else {
        choice.assumed.emplace_back("nothing of its error: no limit is known for its class or the meter's");
    }
    if (need.breaker_a)
        reasons.push_back("rated primary " + amps(one.offer->ct.ratio.primary) +
                          " is not below the breaker's " + amps(*need.breaker_a) + " (common practice)");
    if (one.offer->core == Core::solid && !need.first_commissioning)
        reasons.emplace_back("its core is closed: the cables must be disconnected to fit it");
}
}  // namespace

std::vector<WireOffer const*> wires_for_use(Catalogue const& catalogue, plan::WireUse use,
                                            plan::SizeSystem sizes, plan::MeterHardware const* meter,
                                            double volts) {
    auto const* const range = meter == nullptr ? nullptr : plan::wires_for(*meter, use);
    std::vector<WireOffer const*> wires;
    for (auto const& wire : catalogue.wires) {
        bool const metric = wire.size.unit == plan::SizeUnit::mm2;
        double const area = plan::area_mm2(wire.size);
        if (metric != (sizes == plan::SizeSystem::metric) || wire.volts < volts) continue;
        if (std::ranges::find(wire.uses, use) == wire.uses.end()) continue;
        if (range != nullptr && metric && range->mm2 && (area < range->mm2->least || area > range->mm2->most))
            continue;
        if (range != nullptr && !metric) {
            auto const thin = plan::conductor_size_of(range->thinnest_awg, plan::SizeUnit::awg);
            auto const thick = plan::conductor_size_of(range->thickest_awg, plan::SizeUnit::awg);
            if (thin && area < plan::area_mm2(*thin) * (1.0 - 1e-9)) continue;
            if (thick && area > plan::area_mm2(*thick) * (1.0 + 1e-9)) continue;
        }
        wires.push_back(&wire);
    }
    std::ranges::stable_sort(wires, {}, [](WireOffer const* wire) { return plan::area_mm2(wire->size); });
    return wires;
}

CtRanking rank_cts(CtNeed const& need, Catalogue const& catalogue, Settings const& settings,
                   chain::ClassTables const& tables) {
    CtRanking ranking;
    std::vector<Candidate> candidates;
    std::vector<NotChosen> refused;
    auto const* const meter_class = chain::meter_class(tables, *need.meter);
    for (auto const& offer : catalogue.cts) {
        Candidate one{.offer = &offer, .input = plan::input_for(*need.meter, offer.ct.output)};
        auto why = against_input(offer, one.input, need.load);
        if (why.empty()) why = against_rating(offer, need);
        if (!why.empty()) {
            refused.push_back({ct_words(offer), why});
            continue;
        }
        double const share = one.input->rated > 0.0 ? offer.ct.ratio.secondary / one.input->rated : 1.0;
        one.bound = energy_bound({.ct = chain::ct_class(tables, offer.ct.accuracy_class),
                                  .meter = meter_class,
                                  .rated_primary_a = offer.ct.ratio.primary,
                                  .most_percent = offer.ct.most_percent,
                                  .meter_share = share},
                                 need.load);
        candidates.push_back(one);
    }
    std::ranges::stable_sort(candidates, goes_first);
    auto const wires = lead_wires(need, catalogue);
    std::vector<NotChosen> failing;
    std::set<std::pair<CtOutput, std::string>> told;
    for (auto const& one : candidates) {
        if (ranking.best && failing.size() + ranking.others.size() >= settings.others) break;
        if (ranking.best) {
            ranking.others.push_back({ct_words(*one.offer), bound_words(one)});
            continue;
        }
        CtChoice choice{.offer = one.offer, .bound = one.bound};
        auto why = against_window(*one.offer, need, choice);
        bool const is_window = !why.empty();
        if (why.empty()) why = against_lead(one, need, wires, settings, choice);
        if (why.empty()) {
            add_reasons(one, need, choice);
            ranking.best = std::move(choice);
            continue;
        }
        // One of a kind tells why; the rest would say the same.
        bool const is_new = told.emplace(one.offer->ct.output, is_window ? "window" : "lead").second;
        if (is_new && failing.size() + 1 < settings.others)
            failing.push_back({ct_words(*one.offer), std::move(why)});
    }
    ranking.others.insert(ranking.others.begin(), failing.begin(), failing.end());
    // The refused ones that are nearest to the breaker tell most.
    std::ranges::stable_sort(refused, {},
                             [](NotChosen const& one) { return one.because.starts_with("the meter's"); });
    for (auto const& one : refused)
        if (ranking.others.size() < settings.others) ranking.others.push_back(one);
    return ranking;
}

}  // namespace phasewright::design
