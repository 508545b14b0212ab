#include "core/diagnosis/posterior.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "core/diagnosis/answers.hpp"
#include "core/diagnosis/group_weigher.hpp"
#include "core/quantity/angle.hpp"

namespace phasewright::diagnosis {

namespace {
// Hypotheses this far below the best in prior and volts together (natural logarithm) cannot come back: the currents'
// density is bounded, so leaving them at zero changes no probability by more than 1e-12.
constexpr double hopeless = 60.0;

struct Rotation {
    plan::Sequence sequence;
    double log_weight;
};

std::vector<Rotation> rotations(plan::ServiceModel const& model, std::optional<plan::Sequence> told,
                                SupplyPriors const& supply) {
    using plan::Sequence;
    if (model.service == plan::Service::split_phase_three_wire ||
        (model.service == plan::Service::one_phase_two_wire && model.live.size() == 1))
        return {{Sequence::abc, 0.0}};
    double abc = supply.sequence_abc;
    if (told) abc = *told == Sequence::abc ? supply.sequence_known : 1.0 - supply.sequence_known;
    return {{Sequence::abc, std::log(abc)}, {Sequence::acb, std::log(1.0 - abc)}};
}

LoadModel load_model_of(Landings const& landings, Observed const& observed, LoadGroup const& group,
                        Priors const& priors, readings::ReadingSet const& set, plan::SourcePhasors const& u) {
    auto kind = set.load_kind.whole ? set.load_kind.whole : set.load_kind.three_phase;
    if (group.kind) kind = group.kind;
    LoadModel load;
    load.load = load_priors(priors.beliefs, kind, set.flow, group.generation_running);
    if (auto const bill = bill_power_factor(set)) {
        constexpr double trusted = 0.8;  // a bill is a mean over a month, and a load may be off it at this moment
        for (auto& atom : load.load.atoms) atom.weight *= 1.0 - trusted;
        load.load.atoms.push_back({trusted, std::acos(*bill) * 180.0 / std::numbers::pi, 9.0});
    }
    load.load.lowest_share = priors.load.lowest_share;
    load.spread = priors.spread;
    load.shapes = load_shapes(landings.model, u);
    load.log_full_load = std::log(observed.full_load_a);
    load.snapshots = static_cast<double>(group.snapshots);
    load.independent_paths =
        landings.model.service == plan::Service::one_phase_two_wire && landings.model.live.size() > 1;
    return load;
}

// log(prior x volts x currents) of every hypothesis at one rotation.
std::vector<double> log_weights_at(Rotation const& rotation, Landings const& landings, Observed const& observed,
                                   plan::Nominal const& nominal, Priors const& priors,
                                   readings::ReadingSet const& set) {
    auto const u = plan::source_phasors(landings.model, nominal, rotation.sequence);
    std::vector<TapView> views;
    std::vector<double> log_volts;
    for (auto const& tap : landings.taps) {
        views.push_back(view_of(tap, landings.model, nominal, rotation.sequence));
        log_volts.push_back(log_density_of_volts(views.back(), landings.model, nominal, observed, priors.supply));
    }
    std::vector<double> log_weight(landings.size());
    for (std::size_t h = 0; h < landings.size(); ++h)
        log_weight[h] = rotation.log_weight + landings.log_prior[h] + log_volts[landings.tap_of[h]];
    weigh_answers({set, landings, observed, views, u}, log_weight);
    double const best = *std::ranges::max_element(log_weight);
    std::vector<bool> alive(landings.size());
    for (std::size_t h = 0; h < landings.size(); ++h) alive[h] = log_weight[h] > best - hopeless;
    std::vector<double> density(landings.size());
    for (auto const& group : observed.groups) {
        auto const load = load_model_of(landings, observed, group, priors, set, u);
        GroupWeigher weigher({landings, observed, group, load, views, u});
        std::ranges::fill(density, 0.0);
        for (auto const& variant : group.lags) weigher.add(variant, variant.weight, alive, density);
        for (std::size_t h = 0; h < landings.size(); ++h)
            log_weight[h] += density[h] > 0.0 ? std::log(density[h]) : -std::numeric_limits<double>::infinity();
    }
    return log_weight;
}
}  // namespace

Posterior posterior_of(Landings const& landings, Observed const& observed, plan::Nominal const& nominal,
                       Priors const& priors, readings::ReadingSet const& set) {
    Posterior posterior;
    posterior.probability.assign(landings.size(), 0.0);
    posterior.rotation.assign(landings.size(), plan::Sequence::abc);
    std::vector<std::vector<double>> per_rotation;
    auto const all = rotations(landings.model, set.rotation, priors.supply);
    double best = -std::numeric_limits<double>::infinity();
    for (auto const& rotation : all) {
        per_rotation.push_back(log_weights_at(rotation, landings, observed, nominal, priors, set));
        best = std::max(best, *std::ranges::max_element(per_rotation.back()));
    }
    if (!std::isfinite(best)) {  // nothing explains the readings: the prior stands
        for (std::size_t h = 0; h < landings.size(); ++h) posterior.probability[h] = std::exp(landings.log_prior[h]);
        posterior.log_evidence = best;
        return posterior;
    }
    double total = 0.0;
    for (std::size_t h = 0; h < landings.size(); ++h) {
        double sum = 0.0;
        for (std::size_t r = 0; r < all.size(); ++r) sum += std::exp(per_rotation[r][h] - best);
        if (all.size() > 1 && per_rotation[1][h] > per_rotation[0][h]) posterior.rotation[h] = all[1].sequence;
        posterior.probability[h] = sum;
        total += sum;
    }
    for (double& p : posterior.probability) p /= total;
    posterior.log_evidence = best + std::log(total);
    return posterior;
}

ReadBack read_back(Landings const& landings, std::size_t hypothesis, plan::Nominal const& nominal,
                   plan::Sequence at_source, LoadGroup const& group, LagVariant const& lags) {
    constexpr double degrees_per_radian = 180.0 / std::numbers::pi;
    auto const& model = landings.model;
    auto const u = plan::source_phasors(model, nominal, at_source);
    auto const view = view_of(landings.taps[landings.tap_of[hypothesis]], model, nominal, at_source);
    auto const& current = landings.currents[landings.current_of[hypothesis]];
    auto const& ratio = landings.ratios[landings.ratio_of[hypothesis]];
    ReadBack back;
    for (std::size_t k = 0; k < model.elements.size(); ++k) {
        if (model.elements[k].current_input < 0) continue;
        auto const input = static_cast<std::size_t>(model.elements[k].current_input);
        if (current.path[input] < 0 || !group.flowing[k]) continue;
        auto const path = static_cast<std::size_t>(current.path[input]);
        if (back.element[path] >= 0) continue;
        back.element[path] = static_cast<int>(k);
        back.log_amps[path] = std::log(*group.amps[k] / ratio[input]);
        if (!lags.lag_deg[k] || !view.angle_deg[k]) continue;
        double const own = std::arg(u[static_cast<std::size_t>(model.live[path])]) * degrees_per_radian;
        double const turn = own - *view.angle_deg[k] + (current.sign[input] < 0 ? 180.0 : 0.0);
        back.lag_deg[path] = quantity::wrapped_deg(*lags.lag_deg[k] + turn);
    }
    return back;
}

}  // namespace phasewright::diagnosis
