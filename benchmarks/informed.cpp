#include "benchmarks/informed.hpp"

#include <cmath>
#include <limits>
#include <map>

#include "benchmarks/alike.hpp"
#include "core/diagnosis/answers.hpp"
#include "core/diagnosis/classes.hpp"
#include "core/diagnosis/observed.hpp"
#include "core/diagnosis/posterior.hpp"

namespace phasewright::benchmarks {

namespace {
using Chances = std::map<Landing, double>;

// Every set of one to three mistakes that can be made together, each with its chance.
Chances chances_of(Meter const& meter, std::vector<Mistake> const& possible, Mix mix, bool stress_ratios) {
    std::vector<std::vector<std::vector<Mistake>>> by_size(4);
    std::vector<Mistake> choice;
    for (auto const& one : possible)
        if (mix != Mix::stress || stressful(one, stress_ratios)) choice.push_back(one);
    for (std::size_t i = 0; i < choice.size(); ++i) {
        by_size[1].push_back({choice[i]});
        for (std::size_t j = i + 1; j < choice.size(); ++j) {
            if (!fits(choice[j], {choice[i]})) continue;
            by_size[2].push_back({choice[i], choice[j]});
            for (std::size_t k = j + 1; k < choice.size(); ++k)
                if (fits(choice[k], by_size[2].back()))
                    by_size[3].push_back({choice[i], choice[j], choice[k]});
        }
    }
    Chances chances;
    double total = 0.0;
    for (auto const& sets : by_size)
        for (auto const& set : sets) {
            double weight = mix == Mix::stress ? 1.0 / static_cast<double>(sets.size()) : 1.0;
            if (mix != Mix::stress)
                for (auto const& one : set) weight *= one.odds;
            chances[landing_of(meter, set)] += weight;
            total += weight;
        }
    double const faulty = mix == Mix::matched ? total / (1.0 + total) : 0.75;
    for (auto& [landing, chance] : chances) chance *= faulty / total;
    chances[as_planned(meter)] += 1.0 - faulty;
    return chances;
}

bool has_values(std::vector<std::optional<double>> const& column) {
    for (auto const& value : column)
        if (value) return true;
    return false;
}
}  // namespace

namespace {
// The engine's hypotheses, each with the chance that the world gives it.
diagnosis::Landings with_chances(Meter const& meter, Chances const& chances) {
    auto landings = diagnosis::landings_of(plan::model_of(meter.service), {});
    for (std::size_t h = 0; h < landings.size(); ++h) {
        auto const named = diagnosis::wiring_of(landings, h);
        auto const found = chances.find(landing_of(named));
        bool const happens = found != chances.end() && is_known_here(named);
        landings.log_prior[h] = happens ? std::log(found->second) : -std::numeric_limits<double>::infinity();
    }
    return landings;
}
}  // namespace

Informed::Informed(Meter const& meter, std::vector<Mistake> const& possible, Mix mix, bool stress_ratios)
    : outlook_(with_chances(meter, chances_of(meter, possible, mix, stress_ratios)), {meter.v_ln, meter.v_ll, 50.0}) {
    double heard_of = 0.0;
    for (double const chance : outlook_.prior) heard_of += chance;
    unheard_of_ = std::max(0.0, 1.0 - heard_of);
}

InformedAnswer Informed::answer(readings::ReadingSet const& as_sent) const {
    auto const set = diagnosis::with_stated_facts(as_sent);
    auto const priors = diagnosis::priors_for(set);
    auto const observed = diagnosis::observed_of(set, priors.thresholds);
    auto const posterior = diagnosis::posterior_of(outlook_, observed, priors, set);
    diagnosis::FieldsInHand const fields{.volt_angles = has_values(observed.volt_angle_deg),
                                         .flowing = observed.groups.back().flowing,
                                         .rotation = set.rotation};
    diagnosis::Fingerprints const fingerprints(outlook_.landings, set.nominal, fields);
    auto const classes = diagnosis::classes_of(outlook_.landings, posterior.probability, fingerprints, fingerprints,
                                               priors.thresholds.listed_sum);
    if (classes.empty()) return {};
    InformedAnswer answer{classes[0].probability, {}};
    for (auto const member : classes[0].members)
        answer.wirings.push_back(landing_of(diagnosis::wiring_of(outlook_.landings, member)));
    return answer;
}

}  // namespace phasewright::benchmarks
