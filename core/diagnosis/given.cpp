#include "core/diagnosis/given.hpp"

#include <algorithm>
#include <array>
#include <string_view>
#include <utility>

#include "core/diagnosis/answers.hpp"
#include "core/diagnosis/prior_numbers.hpp"

namespace phasewright::diagnosis {

namespace {
// Optional fields of the contract that the inference looks at, in the contract's names.
constexpr std::array<std::string_view, 42> used_fields{
    "service", "meter_service", "side", "ct_planned", "ct_programmed", "vt_planned", "ct_output", "starting_current",
    "load_kind", "flow", "positive", "breaker", "rotation", "high_leg", "prior", "pf_sign", "var_sign", "resolution",
    "skew_s", "branches", "voltage_terminals", "elements", "snapshots.p", "snapshots.q", "snapshots.pf",
    "snapshots.v_ll", "snapshots.v_angle", "snapshots.i_angle", "snapshots.p_total", "snapshots.q_total",
    "snapshots.sequence", "snapshots.generation_running", "snapshots.load_kind", "snapshots.hz", "snapshots.time",
    "snapshots.s", "steps", "tests", "earthed", "ct_class", "snapshots.thd_i",
    "snapshots.i_n"};

template <class Set, std::size_t count>
void add(Given& given, std::string const& table, Set const& set, std::array<PriorNumber<Set>, count> const& numbers) {
    for (auto const& number : numbers) given.numbers.emplace_back(table + std::string(number.name), set.*number.at);
}
}  // namespace

Given given_of(readings::ReadingSet const& set, Priors const& priors) {
    Given given;
    add(given, "threshold.", priors.thresholds, threshold_numbers);
    add(given, "odds.", priors.odds, odds_numbers);
    add(given, "spread.", priors.spread, spread_numbers);
    add(given, "supply.", priors.supply, supply_numbers);
    given.numbers.emplace_back("load.unloaded_phase_probability", priors.load.unloaded_phase);
    given.numbers.emplace_back("load.unloaded_site_probability", priors.load.unloaded_site);
    given.numbers.emplace_back("load.lowest_share_of_breaker", priors.load.lowest_share);
    for (std::size_t k = 0; k < priors.load.atoms.size(); ++k) {
        auto const name = "load_angle." + std::to_string(k + 1);
        given.numbers.push_back({name + ".weight", priors.load.atoms[k].weight});
        given.numbers.push_back({name + ".mean_deg", priors.load.atoms[k].mean_deg});
        given.numbers.push_back({name + ".sigma_deg", priors.load.atoms[k].sigma_deg});
    }
    given.facts.push_back({"service", std::string(plan::code_of(set.service))});
    given.facts.push_back({"priors", priors.name});
    given.facts.push_back({"prior", set.prior == readings::Prior::commissioning ? "commissioning" : "in_service"});
    if (set.load_kind.whole) given.facts.push_back({"load_kind", std::string(plan::name_of(*set.load_kind.whole))});
    if (set.flow) given.facts.push_back({"flow", std::string(plan::name_of(*set.flow))});
    if (set.rotation) given.facts.push_back({"rotation", std::string(plan::name_of(*set.rotation))});
    if (set.breaker_a) given.numbers.push_back({"breaker", *set.breaker_a});
    given.facts.push_back({"ct_output", std::string(plan::name_of(set.ct_output))});
    if (!set.snapshots.empty() && set.snapshots.back().generation_running)
        given.facts.push_back({"generation_running", *set.snapshots.back().generation_running ? "yes" : "no"});
    for (auto const& field : set.fields_given)
        if (std::ranges::find(used_fields, field) == used_fields.end()) given.unused.push_back(field);
    for (auto& kind : answers_not_weighed(set)) given.unused.push_back(std::move(kind));
    return given;
}

}  // namespace phasewright::diagnosis
