#include "core/diagnosis/diagnose.hpp"

#include <algorithm>
#include <cmath>
#include <complex>

#include "core/diagnosis/agreement.hpp"
#include "core/diagnosis/answers.hpp"
#include "core/diagnosis/classes.hpp"
#include "core/diagnosis/differences.hpp"
#include "core/diagnosis/findings.hpp"
#include "core/diagnosis/given.hpp"
#include "core/diagnosis/least_moves.hpp"
#include "core/diagnosis/what_next.hpp"
#include "core/diagnosis/posterior.hpp"
#include "core/diagnosis/repair.hpp"
#include "core/diagnosis/true_load.hpp"
#include "core/quantity/angle.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::diagnosis {

namespace {
constexpr std::size_t most_members = 24;   // a class lists at most so many of its wirings
constexpr std::size_t most_classes = 60;
constexpr double settled_at = 0.99;        // of one class: no further test is asked for

// Everything that one diagnosis works with.
struct Case {
    readings::ReadingSet const& set;
    Outlook const& outlook;
    Landings const& landings;
    Priors priors;
    Names names;
    Observed observed;
    Posterior posterior;
    double harmless = 0.0;  // probability of the plan itself, but for the conductors' names
    Verdict verdict;
};

Names names_of(readings::ReadingSet const& set, plan::ServiceModel const& model) {
    Names names{set.terminals, set.region};
    auto const usual = plan::default_terminals(model);
    if (names.terminals.voltage.size() < model.terminals.size()) names.terminals.voltage = usual.voltage;
    if (names.terminals.current.size() < model.current_inputs.size()) names.terminals.current = usual.current;
    return names;
}

std::vector<double> programmed_quotients(readings::ReadingSet const& set, plan::ServiceModel const& model) {
    std::vector<double> quotients;
    if (set.ct_planned.empty() || set.ct_programmed.empty() || set.side != quantity::Side::primary) return quotients;
    for (std::size_t k = 0; k < model.current_inputs.size(); ++k) {
        auto const& planned = set.ct_planned[std::min(k, set.ct_planned.size() - 1)];
        auto const& programmed = set.ct_programmed[std::min(k, set.ct_programmed.size() - 1)];
        double const quotient = programmed.factor() / planned.factor();
        quotients.push_back(std::abs(quotient - 1.0) < 1e-3 ? 1.0 : quotient);
    }
    return quotients;
}

FieldsInHand fields_of(Case const& c) {
    FieldsInHand fields;
    auto const has = [](auto const& column) {
        return std::ranges::any_of(column, [](auto const& value) { return value.has_value(); });
    };
    auto const& group = c.observed.groups.back();
    fields.line_volts = has(c.observed.line_volts);
    fields.volt_angles = std::ranges::count_if(c.observed.volt_angle_deg, [](auto const& a) { return a.has_value(); }) > 1;
    fields.sequence = c.observed.sequence.has_value();
    bool any_lag = false;
    for (auto const& variant : group.lags) any_lag = any_lag || has(variant.lag_deg);
    fields.lags = any_lag && group.lags.size() == 1;
    fields.lag_sizes = any_lag && group.lags.size() > 1;
    for (auto const& variant : group.lags)
        for (std::size_t k = 0; k < variant.lag_deg.size(); ++k)
            if (variant.lag_deg[k] && group.lags[0].lag_deg[k] &&
                (std::abs(*variant.lag_deg[k]) > 90.0) != (std::abs(*group.lags[0].lag_deg[k]) > 90.0))
                fields.power_signs = false;
    fields.totals = group.totals.has_value();
    for (std::size_t k = 0; k < c.observed.elements; ++k) {
        bool flows = false;
        for (auto const& g : c.observed.groups) flows = flows || g.flowing[k];
        fields.flowing.push_back(flows);
    }
    fields.rotation = c.set.rotation;
    if (!c.set.tests.empty() || !c.set.steps.empty()) {
        auto const u = plan::source_phasors(c.landings.model, c.set.nominal, c.set.rotation.value_or(plan::Sequence::abc));
        fields.pinned = [&c, u](std::size_t h) { return pinned_predictions(c.set, c.landings, u, h); };
    }
    return fields;
}

// The angle by which an element's reading is turned against its conductor's own load, as planned and under h.
std::optional<double> turn_of(Outlook const& outlook, std::size_t h, std::size_t element, plan::Sequence rotation) {
    auto const& at = outlook.at_rotation(rotation);
    auto const& model = outlook.landings.model;
    int const input = model.elements[element].current_input;
    if (input < 0) return std::nullopt;
    auto const k = static_cast<std::size_t>(input);
    auto const& current = outlook.landings.currents[outlook.landings.current_of[h]];
    auto const& angle = at.views[outlook.landings.tap_of[h]].angle_deg[element];
    if (current.path[k] < 0 || !angle) return std::nullopt;
    return quantity::wrapped_deg(at.path_angle_deg[static_cast<std::size_t>(current.path[k])] - *angle +
                                 (current.sign[k] < 0 ? 180.0 : 0.0) + (current.coil ? 90.0 : 0.0));
}

void element_probabilities(Case& c) {
    auto const& landings = c.landings;
    std::size_t const elements = landings.model.elements.size();
    c.verdict.element_right.assign(elements, 0.0);
    struct Known {
        std::vector<bool> right;
    };
    std::map<std::uint64_t, Known> known;  // by landing of taps, currents and rotation
    for (std::size_t h = 0; h < landings.size(); ++h) {
        double const p = c.posterior.probability[h];
        if (p < 1e-9) continue;
        auto const rotation = c.posterior.rotation[h];
        auto const key = (std::uint64_t{landings.tap_of[h]} << 32) | (std::uint64_t{landings.current_of[h]} << 1) |
                         (rotation == plan::Sequence::abc ? 0U : 1U);
        auto& entry = known[key];
        if (entry.right.empty()) {
            for (std::size_t k = 0; k < elements; ++k) {
                auto const planned = turn_of(c.outlook, landings.planned, k, rotation);
                auto const here = turn_of(c.outlook, h, k, rotation);
                bool const derived = landings.model.elements[k].current_input < 0;
                bool const right = derived ? landings.current_of[h] == landings.current_of[landings.planned]
                                           : planned && here && std::abs(quantity::wrapped_deg(*planned - *here)) < 1.0;
                entry.right.push_back(right);
            }
        }
        auto const& ratio = landings.ratios[landings.ratio_of[h]];
        for (std::size_t k = 0; k < elements; ++k) {
            int const input = landings.model.elements[k].current_input;
            bool const ratio_right = input < 0 || ratio[static_cast<std::size_t>(input)] == 1.0;
            if (entry.right[k] && ratio_right) c.verdict.element_right[k] += p;
        }
    }
}

void expected_lags(Case& c) {
    auto const& landings = c.landings;
    auto const& group = c.observed.groups.back();
    auto const load = load_priors(c.priors.beliefs, group.kind ? group.kind : c.set.load_kind.whole, c.set.flow,
                                  group.generation_running);
    AngleAtom likeliest;
    for (auto const& atom : load.atoms)
        if (atom.weight > likeliest.weight) likeliest = atom;
    for (std::size_t k = 0; k < landings.model.elements.size(); ++k) {
        auto const turn = turn_of(c.outlook, landings.planned, k, c.set.rotation.value_or(plan::Sequence::abc));
        c.verdict.expected_lag_deg.push_back(quantity::wrapped_deg(likeliest.mean_deg - turn.value_or(0.0)));
        c.verdict.expected_lag_half_width_deg.push_back(
            2.0 * std::hypot(likeliest.sigma_deg, c.priors.spread.wander_deg, c.priors.spread.phase_deg));
    }
}

std::vector<ElementValues> as_read(readings::ReadingSet const& set) {
    std::vector<ElementValues> rows;
    for (auto const& element : primary_elements(set, set.snapshots.back())) {
        ElementValues row;
        if (element.v) row.v = element.v->value;
        if (element.i) row.i = element.i->value;
        if (element.p) row.p = element.p->value;
        if (element.q) row.q = element.q->value;
        if (element.lag) row.lag_deg = element.lag->value;
        rows.push_back(row);
    }
    return rows;
}

WiringMember member_of(Case const& c, std::size_t h, double class_probability, std::vector<ElementValues> const& after) {
    WiringMember member;
    member.wiring = wiring_of(c.landings, h);
    member.prior = class_probability > 0.0 ? c.posterior.probability[h] / class_probability : 0.0;
    auto const differences = differences_of(member.wiring, c.landings.model);
    member.in_words = in_words(differences, member.wiring, c.landings.model, c.names);
    member.repair = repair_of(least_moves(member.wiring, c.landings.model), {c.landings.model, c.names, c.set.ct_output, after, c.set.ct_planned});
    member.hazard = hazard_of(differences, c.set.ct_output);
    if (!c.set.rotation && c.outlook.at.size() > 1) member.rotation = c.posterior.rotation[h];
    return member;
}

void fill_classes(Case& c, std::map<std::string, std::vector<std::uint64_t>>& kept) {
    auto const fields = fields_of(c);
    FieldsInHand const all_fields{.line_volts = true, .volt_angles = true, .sequence = true, .rotation = c.set.rotation};
    Fingerprints const fingerprints(c.landings, c.set.nominal, fields, &kept[key_of(fields)]);
    Fingerprints const complete(c.landings, c.set.nominal, all_fields, &kept["all " + key_of(all_fields)]);
    auto const classes = classes_of(c.landings, c.posterior.probability, fingerprints, complete, c.priors.thresholds.listed_sum);
    double listed = 0.0;
    for (auto const& found : classes) {
        if (found.as_planned) c.harmless = found.harmless;
        if (listed >= c.priors.thresholds.listed_sum || c.verdict.classes.size() >= most_classes) break;
        auto const best = found.members.front();
        auto const rotation = c.posterior.rotation[best];
        auto const load = true_load({c.landings, c.observed, c.set.nominal, c.verdict.as_read}, best, rotation);
        WiringClass listed_class{.probability = found.probability, .true_power = load.power, .energy_law = load.law,
                                 .as_planned = found.as_planned};
        std::size_t const members = std::min(found.members.size(), most_members);
        for (std::size_t m = 0; m < members; ++m)
            listed_class.wirings.push_back(member_of(c, found.members[m], found.probability, load.after_repair));
        listed_class.in_words = listed_class.wirings.front().in_words;
        double read = 0.0;
        for (auto const& row : c.verdict.as_read) read += row.p.value_or(0.0);
        if (load.power.p_w && std::abs(*load.power.p_w) > 1e-9) listed_class.registered_share = read / *load.power.p_w;
        if (c.verdict.classes.empty()) c.verdict.after_repair = load.after_repair;
        listed += found.probability;
        c.verdict.classes.push_back(std::move(listed_class));
    }
    c.verdict.left_out_probability = std::max(0.0, 1.0 - listed);
}

bool too_little_load(Case const& c) {
    for (auto const& group : c.observed.groups)
        for (std::size_t k = 0; k < c.observed.elements; ++k) {
            double const rated = c.observed.ct_primary_a[k];
            if (rated <= 0.0 && group.flowing[k]) return false;  // nothing to measure the load against
            if (group.amps[k] && *group.amps[k] >= c.priors.thresholds.low_load_share * rated && group.flowing[k]) return false;
        }
    return true;
}

State state_of(Case const& c, bool unproven) {
    auto const& thresholds = c.priors.thresholds;
    bool const every_one_flows = std::ranges::all_of(c.observed.groups.back().flowing, [](bool flows) { return flows; });
    if (unproven) return State::unproven;
    if (c.harmless <= thresholds.mistake_at) return State::mistake;
    if (c.harmless >= thresholds.as_planned_at && every_one_flows) return State::as_planned;
    return State::undecided;
}

Belief belief_of(Case const& c, bool unproven) {
    Belief belief{.as_planned = c.harmless, .unproven = unproven};
    belief.dead_input.assign(c.landings.model.current_inputs.size(), 0.0);
    belief.joined_input = belief.dead_input;
    for (std::size_t h = 0; h < c.landings.size(); ++h) {
        if (c.landings.taps[c.landings.tap_of[h]].supply_neutral_broken) belief.supply_neutral_broken += c.posterior.probability[h];
        for (std::size_t k = 0; k < belief.dead_input.size(); ++k)
            if (auto const path = c.landings.currents[c.landings.current_of[h]].path[k]; path < 0)
                (path == dead_path ? belief.dead_input : belief.joined_input)[k] += c.posterior.probability[h];
    }
    return belief;
}

void ask_further(Case& c, Belief const& belief, bool unproven) {
    bool loop = false;
    for (auto const* const inputs : {&belief.dead_input, &belief.joined_input})
        for (double const p : *inputs) loop = loop || p >= c.priors.thresholds.stop_at;
    loop = loop && plan::is_current_loop(c.set.ct_output);
    bool const neutral = has_moved_neutral(c.set, c.observed) || belief.supply_neutral_broken >= neutral_named_at;
    auto const& thresholds = c.priors.thresholds;
    // A class that is believed may hold the plan and a mistake, where few fields were read: then it is not settled yet.
    // `as_planned` alone ends nothing: at 95 % one in twenty is something else, and a test may be cheap.
    bool const mixed = c.harmless < thresholds.as_planned_at && c.harmless > thresholds.mistake_at;
    bool const settled = !c.verdict.classes.empty() && c.verdict.classes.front().probability >= settled_at && !mixed;
    if (settled && !loop && !neutral) return;
    std::vector<bool> flowing;
    for (std::size_t input = 0; input < c.landings.model.current_inputs.size(); ++input)
        for (std::size_t k = 0; k < c.landings.model.elements.size(); ++k)
            if (c.landings.model.elements[k].current_input == static_cast<int>(input)) flowing.push_back(c.observed.groups.back().flowing[k]);
    c.verdict.next_test = next_test_of({.model = c.landings.model,
                                        .names = c.names,
                                        .set = c.set,
                                        .observed = c.observed,
                                        .priors = c.priors,
                                        .classes = c.verdict.classes,
                                        .flowing = flowing,
                                        .loop_may_be_open = loop,
                                        .neutral_may_be_broken = neutral,
                                        .unproven = unproven,
                                        .settled = settled});
}
}  // namespace

namespace {
PointFacts facts_of(readings::ReadingSet const& set, plan::ServiceModel const& model, Odds const& odds) {
    PointFacts facts{.programmed = programmed_quotients(set, model), .current_loops = plan::is_current_loop(set.ct_output)};
    facts.voltage_transformers = !set.vt_planned.empty();
    using enum plan::CtOutput;
    bool const told = set.ct_output == coil && set.meter_input == millivolts;
    bool const possible = set.ct_output == millivolts || (set.ct_output == unknown && set.meter_input == millivolts);
    facts.raw_coil_odds = told ? odds.raw_coil_as_told : possible ? odds.raw_coil : 0.0;
    facts.vars_were_read = std::ranges::any_of(set.snapshots, [](auto const& snapshot) { return !snapshot.q.empty(); }) &&
                           set.var_sign == readings::SignHabit::iec;
    bool const other_setting = set.meter_service == plan::Service::three_wire_two_element && model.service != *set.meter_service;
    bool const unknown_setting = !set.meter_service && model.service == plan::Service::four_wire_wye;
    facts.two_elements_odds = other_setting ? odds.service_setting_as_told : unknown_setting ? odds.service_setting : 0.0;
    return facts;
}

std::string key_of(plan::ServiceModel const& model, plan::Nominal const& nominal, readings::Prior prior, PointFacts const& facts) {
    std::string key = std::string(plan::code_of(model.service)) + (prior == readings::Prior::in_service ? " s" : " c");
    for (auto const conductor : model.live) key += plan::letter_of(conductor);
    for (auto const conductor : model.terminals) key += plan::letter_of(conductor);
    for (auto const& element : model.elements)
        key += std::to_string(element.plus) + "," + std::to_string(element.minus) + "," + std::to_string(element.current_input) + ";";
    key += plan::letter_of(model.high_leg);
    for (double const number : {nominal.v_ln, nominal.v_ll, facts.raw_coil_odds, facts.two_elements_odds}) key += " " + quantity::shortest(number);
    for (bool const fact : {facts.current_loops, facts.voltage_transformers, facts.vars_were_read}) key += fact ? " y" : " n";
    for (double const quotient : facts.programmed) key += " " + quantity::shortest(quotient);
    return key;
}
}  // namespace

Diagnoser::Known& Diagnoser::known_for(readings::ReadingSet const& set, plan::ServiceModel const& model) {
    auto const& odds = set.prior == readings::Prior::in_service ? sets_.in_service.odds : sets_.commissioning.odds;
    auto const facts = facts_of(set, model, odds);
    constexpr std::size_t most_known = 24;  // a stream that tells ever new ratios must not fill the memory
    auto const key = key_of(model, set.nominal, set.prior, facts);
    if (known_.size() >= most_known && !known_.contains(key)) known_.clear();
    auto& entry = known_[key];
    if (!entry) entry = std::make_unique<Known>(Known{Outlook(landings_of(model, odds, facts), set.nominal), {}});
    return *entry;
}

Verdict Diagnoser::diagnose(readings::ReadingSet const& as_sent, Asking asking) {
    auto const set = with_stated_facts(as_sent);
    auto const model = model_of(set);
    auto& known = known_for(set, model);
    Case c{.set = set, .outlook = known.outlook, .landings = known.outlook.landings, .priors = priors_for(set, sets_), .names = names_of(set, model)};
    c.verdict.id = set.id;
    c.verdict.as_read = as_read(set);
    c.verdict.disagreements = disagreements_of(set);
    c.verdict.given = given_of(set, c.priors);
    c.observed = observed_of(set, c.priors.thresholds);
    expected_lags(c);
    if (!c.verdict.disagreements.empty()) {
        c.verdict.state = State::contradictory;
        c.verdict.element_right.assign(model.elements.size(), 0.0);
        c.verdict.true_power.why = "the readings do not agree with each other";
        c.verdict.findings = findings_of(set, c.observed, {}, {}, c.priors.thresholds, c.names);
        return std::move(c.verdict);
    }
    c.posterior = posterior_of(known.outlook, c.observed, c.priors, set);
    fill_classes(c, known.fingerprints);
    element_probabilities(c);
    bool const unproven = too_little_load(c);
    auto const belief = belief_of(c, unproven);
    c.verdict.state = state_of(c, unproven);
    c.verdict.true_power = over_classes(c.verdict.classes);
    c.verdict.findings = findings_of(set, c.observed, belief, c.verdict.classes, c.priors.thresholds, c.names);
    if (asking == Asking::next_test_too) ask_further(c, belief, unproven);
    return std::move(c.verdict);
}

Verdict diagnose(readings::ReadingSet const& set) { return Diagnoser{}.diagnose(set); }

}  // namespace phasewright::diagnosis
