#include "core/diagnosis/priors.hpp"

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
            .ratio_of_one = 0.003,
            .ratio_of_all = 0.008};
}

namespace {
struct KindBelief {
    std::vector<AngleAtom> atoms;  // weights sum to one
    double export_share;           // where the flow was not told
    double unloaded_phase;
    AngleAtom export_atom{1.0, 190.0, 20.0};
};

KindBelief belief_of(std::optional<plan::LoadKind> kind) {
    if (!kind)  // 0.70, 0.12 and 0.12 of all, beside 0.06 export
        return {{{0.70 / 0.94, 18.0, 14.0}, {0.12 / 0.94, -8.0, 12.0}, {0.12 / 0.94, 10.0, 45.0}}, 0.06, 0.004};
    switch (*kind) {
        case plan::LoadKind::resistive:
            return {{{0.94, 1.0, 3.0}, {0.055, 6.0, 8.0}, {0.005, 10.0, 45.0}}, 0.003, 0.006};
        case plan::LoadKind::motor:
            return {{{0.949, 35.0, 12.0}, {0.05, 50.0, 15.0}, {0.001, 10.0, 45.0}}, 0.003, 0.0005};
        case plan::LoadKind::electronic:
            return {{{0.70, 2.0, 9.0}, {0.28, -14.0, 12.0}, {0.02, 10.0, 45.0}}, 0.01, 0.006};
        case plan::LoadKind::mixed:
            return {{{0.87, 18.0, 12.0}, {0.11, -5.0, 10.0}, {0.02, 10.0, 45.0}}, 0.02, 0.004};
        case plan::LoadKind::generation:
            // At night an inverter takes a little, mostly capacitive.
            return {{{0.5, -60.0, 25.0}, {0.5, 10.0, 45.0}}, 0.96, 0.004, {1.0, 183.0, 10.0}};
        case plan::LoadKind::capacitive:
            return {{{0.6, -84.0, 6.0}, {0.35, -40.0, 20.0}, {0.05, 10.0, 45.0}}, 0.003, 0.004};
    }
    return belief_of(std::nullopt);
}

double export_share(KindBelief const& belief, std::optional<plan::LoadKind> kind, std::optional<plan::Flow> flow,
                    std::optional<bool> running) {
    bool const is_generation = kind == plan::LoadKind::generation;
    double share = belief.export_share;
    if (flow == plan::Flow::import_only) share = 0.002;
    if (flow == plan::Flow::export_only) share = 0.98;
    if (flow == plan::Flow::both) share = is_generation ? 0.6 : kind ? 0.25 : 0.5;
    if (running == false) share = 0.001;
    if (running == true && flow != plan::Flow::import_only) share = is_generation ? 0.995 : 0.6;
    return share;
}
}  // namespace

LoadPriors load_priors(std::optional<plan::LoadKind> kind, std::optional<plan::Flow> flow,
                       std::optional<bool> generation_running) {
    auto const belief = belief_of(kind);
    double const exported = export_share(belief, kind, flow, generation_running);
    LoadPriors load;
    load.unloaded_phase = belief.unloaded_phase;
    for (auto atom : belief.atoms) {
        atom.weight *= 1.0 - exported;
        load.atoms.push_back(atom);
    }
    auto exporting = belief.export_atom;
    exporting.weight = exported;
    load.atoms.push_back(exporting);
    return load;
}

Priors priors_for(readings::ReadingSet const& set) {
    Priors priors;
    priors.odds = odds_for(set.prior);
    auto const kind = set.load_kind.whole ? set.load_kind.whole : set.load_kind.three_phase;
    priors.load = load_priors(kind, set.flow, std::nullopt);
    return priors;
}

}  // namespace phasewright::diagnosis
