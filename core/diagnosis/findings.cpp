#include "core/diagnosis/findings.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

#include "core/diagnosis/what_next.hpp"
#include "core/quantity/text.hpp"
#include "core/quantity/three_phase.hpp"

namespace phasewright::diagnosis {

namespace {
constexpr double unequal = 0.10;   // EN 50160 and IEC 60038: supply within 10 % of nominal
constexpr double far_above = 1.25; // of what the input is planned for

double planned_volts(readings::ReadingSet const& set, std::size_t element) {
    auto const model = model_of(set);
    auto const u = plan::source_phasors(model, set.nominal, plan::Sequence::abc);
    auto const seen = wiring::seen_by(wiring::as_planned(model), model);
    std::complex<double> v = 0.0;
    for (std::size_t c = 0; c < 4; ++c) v += seen.voltage[element][c] * u[c];
    return std::abs(v);
}

bool line_volts_sound(readings::ReadingSet const& set, Observed const& observed) {
    std::vector<double> v;
    for (auto const& volts : observed.volts) v.push_back(volts.value_or(0.0));
    bool any_line = false;
    for (auto const& line : observed.line_volts) {
        if (!line) continue;
        any_line = true;
        if (std::abs(*line / set.nominal.v_ll - 1.0) > unequal) return false;
    }
    if (any_line) return true;
    if (set.service == plan::Service::split_phase_three_wire && v.size() == 2)
        return std::abs((v[0] + v[1]) / set.nominal.v_ll - 1.0) <= unequal;
    if (set.service == plan::Service::four_wire_wye && v.size() == 3)
        return fits_moved_neutral(v[0], v[1], v[2], set.nominal.v_ll, unequal);
    if (set.service == plan::Service::high_leg_delta && v.size() == 3) {
        auto const high = static_cast<std::size_t>(model_of(set).high_leg);
        return std::abs((v[(high + 1) % 3] + v[(high + 2) % 3]) / set.nominal.v_ll - 1.0) <= unequal;
    }
    return false;
}

void dangers(readings::ReadingSet const& set, Observed const& observed, Belief const& belief, Thresholds const& thresholds,
             Names const& names, std::vector<Finding>& list) {
    auto const model = model_of(set);
    std::vector<std::string> loops;
    std::vector<std::string> clamped;
    for (std::size_t k = 0; k < belief.dead_input.size(); ++k)
        if (belief.dead_input[k] >= thresholds.stop_at)
            (loop_was_clamped(set, k) ? clamped : loops).push_back(names.conductor(model.current_inputs[k]));
    if (!clamped.empty() && plan::is_current_loop(set.ct_output))
        list.push_back({Severity::mend, "A clamp has shown current in the CT loop of " + quantity::joined(clamped, ", ") +
                                            ", and the meter does not show it: the loop is closed before the meter. Never open it "
                                            "while current flows in its conductor."});
    if (!loops.empty() && plan::is_current_loop(set.ct_output))
        list.push_back({Severity::stop,
                        "The CT loop of " + quantity::joined(loops, ", ") + " may be an open secondary" +
                            (set.ct_output == plan::CtOutput::unknown ? " (the CT's output is not known and counts as 5 A)" : "") +
                            ": treat it as open and touch nothing. Take the load off or de-energise the conductor. The only live "
                            "test is a clamp round an insulated lead of the loop; short at the block only after the clamp has "
                            "shown current in it."});
    std::vector<std::string> joined;
    for (std::size_t k = 0; k < belief.joined_input.size(); ++k)
        if (belief.joined_input[k] >= thresholds.stop_at) joined.push_back(names.conductor(model.current_inputs[k]));
    if (!joined.empty() && plan::is_current_loop(set.ct_output))
        list.push_back({Severity::stop,
                        "The secondary leads of " + quantity::joined(joined, ", ") +
                            " may be mis-paired, so that loops have become one: as dangerous as an open secondary. Touch nothing; "
                            "take the load off or de-energise the conductors. The only live test is a clamp round an insulated "
                            "lead."});
    if (belief.supply_neutral_broken >= neutral_named_at && !has_moved_neutral(set, observed))
        list.push_back({Severity::stop,
                        "The supply's neutral may be broken: phase to neutral volts hang together as if its star point floated, "
                        "and the currents return in the phases. Keep away from neutral and cases; measure at the source with a "
                        "two-pole tester before anything else."});
    if (has_moved_neutral(set, observed))
        list.push_back({Severity::stop,
                        "Phase to neutral volts are unequal while line volts are sound: either the meter's neutral lead or the "
                        "supply neutral is broken. Assume the supply; measure at the source with a two-pole tester before "
                        "anything else."});
    for (std::size_t k = 0; k < observed.elements; ++k) {
        double const planned = planned_volts(set, k);
        if (observed.volts[k] && *observed.volts[k] > far_above * planned)
            list.push_back({Severity::stop, "Element " + std::to_string(k + 1) + " shows " + quantity::fixed(*observed.volts[k], 0) +
                                                " V on an input planned for " + quantity::fixed(planned, 0) +
                                                " V: it may be above the input's rating, and the neutral or the service may be "
                                                "wrong. De-energise before touching it."});
    }
    if (set.meter_service && *set.meter_service != set.service) {
        bool const neutral_differs = plan::model_of(*set.meter_service).has_neutral != model.has_neutral;
        list.push_back({neutral_differs ? Severity::stop : Severity::mend,
                        "The meter is set for " + std::string(plan::words_of(*set.meter_service)) + ", the plan says " +
                            std::string(plan::words_of(set.service)) + ": program the service" +
                            (neutral_differs ? ", and check that no input stands above its rating." : ".")});
    }
}

// Amperes alone tell no ratio: twice the ratio reads as twice the load. Something beside the meter must have told it.
bool ratio_was_compared(readings::ReadingSet const& set) {
    constexpr std::array<std::string_view, 4> comparing{"clamp_primary", "turns_in_window", "cables_in_window", "other_meter"};
    bool const by_test = std::ranges::any_of(
        set.tests, [&](auto const& answer) { return std::ranges::find(comparing, answer.kind) != comparing.end(); });
    return by_test || !set.steps.empty();
}

void remarks(readings::ReadingSet const& set, Observed const& observed, Thresholds const& thresholds, Names const& names,
             std::vector<Finding>& list) {
    auto const model = model_of(set);
    auto const& group = observed.groups.back();
    for (std::size_t k = 0; k < observed.elements; ++k) {
        auto const phase = "Element " + std::to_string(k + 1);
        if (observed.ct_primary_a[k] <= 0.0 || !group.amps[k]) continue;
        double const share = *group.amps[k] / observed.ct_primary_a[k];
        if (group.flowing[k] && share < thresholds.low_load_share)
            list.push_back({Severity::mind, phase + " carries " + quantity::fixed(100.0 * share, 1) + " % of its CT's rating: below " +
                                                quantity::fixed(100.0 * thresholds.low_load_share, 0) +
                                                " % the classes promise little; run the load and read again."});
        if (!group.flowing[k])
            list.push_back({Severity::mind, phase + " shows no current: whether its CT is right was not proved by this reading."});
    }
    if (set.rotation && observed.sequence && *set.rotation != *observed.sequence)
        list.push_back({Severity::mend, "The meter shows the rotation " + std::string(plan::name_of(*observed.sequence)) +
                                            ", the source turns " + std::string(plan::name_of(*set.rotation)) +
                                            ": two voltage leads or their names are exchanged."});
    if (model.service == plan::Service::high_leg_delta)
        list.push_back({Severity::mind, "High-leg delta: " + names.conductor(model.high_leg) + " stands at " +
                                            quantity::fixed(quantity::high_leg_v(set.nominal.v_ll), 0) +
                                            " V to neutral by design; no one-pole load may be connected to it."});
}
}  // namespace

bool has_moved_neutral(readings::ReadingSet const& set, Observed const& observed) {
    if (!model_of(set).has_neutral || observed.elements < 2) return false;
    if (set.service == plan::Service::one_phase_two_wire) return false;
    double least = 1e9;
    double most = 0.0;
    for (std::size_t k = 0; k < observed.elements; ++k) {
        if (!observed.volts[k]) return false;
        double const share = *observed.volts[k] / planned_volts(set, k);
        least = std::min(least, share);
        most = std::max(most, share);
    }
    bool const apart = most > 1.0 + unequal || least < 1.0 - unequal;
    return apart && most - least > unequal && line_volts_sound(set, observed);
}

bool fits_moved_neutral(double v1, double v2, double v3, double line_v, double tolerance) {
    auto const side = quantity::triangle_side(v1, v2, v3);
    return side && std::abs(*side / line_v - 1.0) <= tolerance;
}

std::vector<Finding> findings_of(readings::ReadingSet const& set, Observed const& observed, Belief const& belief,
                                 std::vector<WiringClass> const& classes, Thresholds const& thresholds, Names const& names) {
    std::vector<Finding> list;
    dangers(set, observed, belief, thresholds, names, list);
    if (!classes.empty() && !classes.front().as_planned && classes.front().probability >= 0.5) {
        auto words = classes.front().in_words;
        words[0] = static_cast<char>(words[0] >= 'a' && words[0] <= 'z' ? words[0] - 'a' + 'A' : words[0]);
        list.push_back({Severity::mend, words + "."});
    }
    remarks(set, observed, thresholds, names, list);
    if (belief.as_planned >= thresholds.as_planned_at && !belief.unproven && !ratio_was_compared(set))
        list.push_back({Severity::mind,
                        "A ratio that is wrong on all CTs alike shows in no reading of this meter: it was taken as planned. A clamp "
                        "round each conductor, beside the displayed current, tells it."});
    std::ranges::stable_sort(list, {}, &Finding::severity);
    return list;
}

}  // namespace phasewright::diagnosis
