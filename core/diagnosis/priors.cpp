#include "core/diagnosis/priors.hpp"

#include <algorithm>

namespace phasewright::diagnosis {

Odds odds_for(readings::Prior prior) {
    if (prior == readings::Prior::commissioning) return {};
    // In service the leads have stayed where they were put: what fails by itself is a fuse, a CT, a neutral, and what
    // a later job disturbs.
    return {.ct_reversed = 0.008,
            .all_cts_reversed = 0.012,
            .two_cts_exchanged = 0.003,
            .cts_rotated = 0.006,
            .ct_wrong_conductor = 0.001,
            .ct_dead = 0.012,
            .all_cts_dead = 0.006,
            .two_taps_exchanged = 0.003,
            .taps_rotated = 0.003,
            .tap_doubled = 0.0007,
            .tap_on_neutral = 0.0005,
            .tap_lost = 0.015,
            .neutral_lost = 0.003,
            .supply_neutral_broken = 0.002,
            .ratio_of_one = 0.003,
            .ratio_of_all = 0.008,
            .leads_crossed = 0.0003,
            .vt_reversed = 0.001,
            .vt_ratio = 0.003,
            .vars_turned = 0.0005,
            .raw_coil = 0.0005,
            .service_setting = 0.0005};
}

LoadBeliefs built_in_loads() {
    LoadBeliefs loads;
    // 0.70, 0.12 and 0.12 of all, beside 0.06 export.
    loads.unknown = {{{0.70 / 0.94, 18.0, 14.0}, {0.12 / 0.94, -8.0, 12.0}, {0.12 / 0.94, 10.0, 45.0}}, 0.06, 0.004};
    loads.resistive = {{{0.94, 1.0, 3.0}, {0.055, 6.0, 8.0}, {0.005, 10.0, 45.0}}, 0.003, 0.006};
    loads.motor = {{{0.949, 35.0, 12.0}, {0.05, 50.0, 15.0}, {0.001, 10.0, 45.0}}, 0.003, 0.0005};
    loads.electronic = {{{0.70, 2.0, 9.0}, {0.28, -14.0, 12.0}, {0.02, 10.0, 45.0}}, 0.01, 0.006};
    loads.mixed = {{{0.87, 18.0, 12.0}, {0.11, -5.0, 10.0}, {0.02, 10.0, 45.0}}, 0.02, 0.004};
    // At night an inverter takes a little, mostly capacitive.
    loads.generation = {{{0.5, -60.0, 25.0}, {0.5, 10.0, 45.0}}, 0.96, 0.004, {1.0, 183.0, 10.0}};
    loads.capacitive = {{{0.6, -84.0, 6.0}, {0.35, -40.0, 20.0}, {0.05, 10.0, 45.0}}, 0.003, 0.004};
    return loads;
}

PriorSet built_in_priors(readings::Prior prior) {
    bool const first = prior == readings::Prior::commissioning;
    PriorSet set;
    set.name = first ? "built-in first-commissioning" : "built-in in-service";
    set.odds = odds_for(prior);
    set.load = built_in_loads();
    return set;
}

PriorSets built_in_sets() {
    return {built_in_priors(readings::Prior::commissioning), built_in_priors(readings::Prior::in_service)};
}

namespace {
KindBelief const& belief_of(LoadBeliefs const& beliefs, std::optional<plan::LoadKind> kind) {
    if (!kind) return beliefs.unknown;
    switch (*kind) {
        case plan::LoadKind::resistive: return beliefs.resistive;
        case plan::LoadKind::motor: return beliefs.motor;
        case plan::LoadKind::electronic: return beliefs.electronic;
        case plan::LoadKind::mixed: return beliefs.mixed;
        case plan::LoadKind::generation: return beliefs.generation;
        case plan::LoadKind::capacitive: return beliefs.capacitive;
    }
    return beliefs.unknown;
}

double export_share(LoadBeliefs const& beliefs, std::optional<plan::LoadKind> kind, std::optional<plan::Flow> flow,
                    std::optional<bool> running) {
    bool const is_generation = kind == plan::LoadKind::generation;
    auto const& told = beliefs.exports;
    double share = belief_of(beliefs, kind).export_share;
    if (flow == plan::Flow::import_only) share = told.import_only;
    if (flow == plan::Flow::export_only) share = told.export_only;
    if (flow == plan::Flow::both) share = is_generation ? told.both_generation : kind ? told.both_kind_known : told.both;
    if (running == false) share = told.not_running;
    if (running == true && flow != plan::Flow::import_only) share = is_generation ? told.running_generation : told.running;
    return share;
}
}  // namespace

LoadPriors load_priors(LoadBeliefs const& beliefs, std::optional<plan::LoadKind> kind, std::optional<plan::Flow> flow,
                       std::optional<bool> generation_running) {
    auto const& belief = belief_of(beliefs, kind);
    double const exported = export_share(beliefs, kind, flow, generation_running);
    LoadPriors load;
    load.unloaded_phase = belief.unloaded_phase;
    load.unloaded_site = beliefs.unloaded_site;
    load.lowest_share = beliefs.lowest_share;
    for (auto atom : belief.atoms) {
        atom.weight *= 1.0 - exported;
        load.atoms.push_back(atom);
    }
    auto exporting = belief.export_atom;
    exporting.weight = exported;
    load.atoms.push_back(exporting);
    return load;
}

double usual_lag_deg(LoadBeliefs const& beliefs, std::optional<plan::LoadKind> kind) {
    auto const& belief = belief_of(beliefs, kind);
    if (kind == plan::LoadKind::generation) return belief.export_atom.mean_deg;
    return std::ranges::max_element(belief.atoms, {}, &AngleAtom::weight)->mean_deg;
}

LoadPriors load_priors(std::optional<plan::LoadKind> kind, std::optional<plan::Flow> flow,
                       std::optional<bool> generation_running) {
    return load_priors(built_in_loads(), kind, flow, generation_running);
}

Priors priors_for(readings::ReadingSet const& set, PriorSets const& sets) {
    auto const& chosen = set.prior == readings::Prior::commissioning ? sets.commissioning : sets.in_service;
    Priors priors{.name = chosen.name,
                  .odds = chosen.odds,
                  .spread = chosen.spread,
                  .supply = chosen.supply,
                  .beliefs = chosen.load,
                  .thresholds = chosen.thresholds};
    auto const kind = set.load_kind.whole ? set.load_kind.whole : set.load_kind.three_phase;
    priors.load = load_priors(chosen.load, kind, set.flow, std::nullopt);
    return priors;
}

Priors priors_for(readings::ReadingSet const& set) { return priors_for(set, built_in_sets()); }

}  // namespace phasewright::diagnosis
