#include "core/diagnosis/posterior.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>
#include <numbers>

#include "core/diagnosis/answers.hpp"
#include "core/diagnosis/group_weigher.hpp"
#include "core/quantity/angle.hpp"

namespace phasewright::diagnosis {

namespace {
double rotation_weight(OutlookAt const& at, std::size_t rotations, std::optional<plan::Sequence> told, SupplyPriors const& supply) {
    if (rotations == 1) return 1.0;
    double abc = supply.sequence_abc;
    if (told) abc = *told == plan::Sequence::abc ? supply.sequence_known : 1.0 - supply.sequence_known;
    return at.rotation == plan::Sequence::abc ? abc : 1.0 - abc;
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
    auto legs = set.load_kind.legs;
    if (group.kind || group.legs) legs = group.legs;
    double const behind = legs ? usual_lag_deg(priors.beliefs, legs) - usual_lag_deg(priors.beliefs, kind) : 0.0;
    load.shapes = load_shapes(landings.model, u, behind);
    load.log_full_load = std::log(observed.full_load_a);
    load.snapshots = static_cast<double>(group.snapshots);
    load.independent_paths =
        landings.model.service == plan::Service::one_phase_two_wire && landings.model.live.size() > 1;
    return load;
}

// The logarithm of what the answers to tests and the load steps say of each hypothesis, or nothing.
std::vector<double> weights_of_answers(Outlook const& outlook, OutlookAt const& at, Observed const& observed,
                                       readings::ReadingSet const& set) {
    if (set.tests.empty() && set.steps.empty()) return {};
    std::vector<double> log_weight(outlook.landings.size(), 0.0);
    weigh_answers({set, outlook.landings, observed, at.views, at.u}, log_weight);
    return log_weight;
}

struct Weights {
    std::vector<double> weight;
    double sum = 0.0;
    double best = 0.0;
};

// Lifts the weights of `outlook` by what answers say; `largest` follows.
void lift(Outlook const& outlook, std::vector<double> const& answers, std::vector<double>& weight, std::vector<double>& largest) {
    for (std::size_t pair = 0; pair < largest.size(); ++pair) {
        largest[pair] = 0.0;
        for (auto h = outlook.first[pair]; h < outlook.first[pair + 1]; ++h) {
            weight[h] *= answers[h];
            largest[pair] = std::max(largest[pair], weight[h]);
        }
    }
}

// prior x volts x answers x currents of every hypothesis at one rotation. `best` is what another rotation reached.
Weights weights_at(OutlookAt const& at, Outlook const& outlook, Observed const& observed, Priors const& priors,
                   readings::ReadingSet const& set, std::vector<double> const& answers, double best) {
    auto const& landings = outlook.landings;
    auto const volts = densities_of_volts(at.views, landings.model, outlook.nominal, observed, priors.supply, at.rotation);
    double const rotation = rotation_weight(at, outlook.at.size(), set.rotation, priors.supply);
    std::vector<double> of_hypothesis;
    std::vector<double> largest;
    if (!answers.empty()) {
        of_hypothesis = outlook.prior;
        largest = outlook.largest_prior;
        lift(outlook, answers, of_hypothesis, largest);
    }
    std::vector<double> of_pair(outlook.tap_of_pair.size());
    for (std::size_t pair = 0; pair < of_pair.size(); ++pair) of_pair[pair] = rotation * volts[outlook.tap_of_pair[pair]];
    Weights result;
    for (std::size_t g = 0; g < observed.groups.size(); ++g) {
        auto const& group = observed.groups[g];
        bool const last = g + 1 == observed.groups.size();
        auto const load = load_model_of(landings, observed, group, priors, set, at.u);
        bool const plain = of_hypothesis.empty();
        WeightsSoFar const so_far{of_pair, plain ? outlook.prior : of_hypothesis, plain ? outlook.largest_prior : largest};
        // Weights of different groups are no measure of each other.
        GroupWeigher weigher({outlook, at, observed, group, load}, so_far, observed.groups.size() == 1 ? best : 0.0);
        std::vector<double> weight(landings.size());  // densities first, weights after the loop below
        std::vector<bool> touched(of_pair.size());
        for (auto const& variant : group.lags) weigher.add(variant, variant.weight, weight, touched);
        std::vector<double> most(of_pair.size());
        for (std::size_t pair = 0; pair < of_pair.size(); ++pair) {
            if (!touched[pair]) continue;
            for (auto h = outlook.first[pair]; h < outlook.first[pair + 1]; ++h) {
                weight[h] *= so_far.of_hypothesis[h];
                most[pair] = std::max(most[pair], weight[h]);
                if (!last) continue;
                weight[h] *= of_pair[pair];
                result.sum += weight[h];
            }
        }
        result.best = weigher.best();
        of_hypothesis = std::move(weight);
        largest = std::move(most);
    }
    result.weight = std::move(of_hypothesis);
    return result;
}
}  // namespace

Posterior posterior_of(Outlook const& outlook, Observed const& observed, Priors const& priors, readings::ReadingSet const& set) {
    auto const& landings = outlook.landings;
    Posterior posterior;
    posterior.rotation.assign(landings.size(), outlook.at.front().rotation);
    // What answers say may be far below the least double: the best of all rotations becomes one.
    std::vector<std::vector<double>> answers;
    double best = -std::numeric_limits<double>::infinity();
    for (auto const& at : outlook.at) {
        answers.push_back(weights_of_answers(outlook, at, observed, set));
        for (double const weight : answers.back()) best = std::max(best, weight);
    }
    for (auto& of_rotation : answers)
        for (double& weight : of_rotation) weight = std::exp(weight - best);
    auto first = weights_at(outlook.at.front(), outlook, observed, priors, set, answers.front(), 0.0);
    double total = first.sum;
    if (outlook.at.size() == 2) {
        auto const second = weights_at(outlook.at.back(), outlook, observed, priors, set, answers.back(), first.best);
        for (std::size_t h = 0; h < landings.size(); ++h) {
            if (second.weight[h] > first.weight[h]) posterior.rotation[h] = outlook.at.back().rotation;
            first.weight[h] += second.weight[h];
        }
        total += second.sum;
    }
    posterior.probability = std::move(first.weight);
    if (!(total > 0.0)) {  // nothing explains the readings: the prior stands
        posterior.probability = outlook.prior;
        return posterior;
    }
    for (double& p : posterior.probability) p /= total;
    posterior.log_evidence = std::log(total);
    return posterior;
}

ReadBack read_back(Landings const& landings, std::size_t hypothesis, plan::Nominal const& nominal,
                   plan::Sequence at_source, LoadGroup const& group, LagVariant const& lags) {
    using quantity::degrees_per_radian;
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
        double const turn = own - *view.angle_deg[k] + (current.sign[input] < 0 ? 180.0 : 0.0) + (current.coil ? 90.0 : 0.0);
        back.lag_deg[path] = quantity::wrapped_deg((current.vars_turned ? -1.0 : 1.0) * *lags.lag_deg[k] + turn);
    }
    return back;
}

}  // namespace phasewright::diagnosis
