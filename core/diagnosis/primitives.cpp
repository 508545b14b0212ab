#include "core/diagnosis/primitives.hpp"

#include <algorithm>
#include <functional>
#include <utility>

namespace phasewright::diagnosis {

namespace {
using wiring::Touch;

template <class Array>
void rotate_first(Array& values, std::size_t count, int by) {
    auto const before = values;
    for (std::size_t k = 0; k < count; ++k) values[k] = before[(k + static_cast<std::size_t>(by)) % count];
}
}  // namespace

TapLanding planned_taps(plan::ServiceModel const& model) {
    TapLanding tap;
    tap.terminal.fill(Touch::lost);
    tap.neutral = model.has_neutral ? Touch::n : Touch::lost;
    for (std::size_t t = 0; t < model.terminals.size(); ++t) tap.terminal[t] = wiring::touch_of(model.terminals[t]);
    return tap;
}

CurrentLanding planned_currents(plan::ServiceModel const& model) {
    CurrentLanding current;
    current.path.fill(dead_path);
    current.sign.fill(1);
    // Input k is meant for the first path on its conductor that no input before it has taken.
    std::array<bool, 3> taken{};
    for (std::size_t k = 0; k < model.current_inputs.size(); ++k)
        for (std::size_t path = 0; path < model.live.size(); ++path)
            if (!taken[path] && model.live[path] == model.current_inputs[k]) {
                current.path[k] = static_cast<std::int16_t>(path);
                taken[path] = true;
                break;
            }
    return current;
}

std::vector<CurrentPrimitive> current_primitives(plan::ServiceModel const& model, Odds const& odds, PointFacts const& facts) {
    using enum CurrentDeed;
    std::vector<CurrentPrimitive> list;
    int const inputs = static_cast<int>(model.current_inputs.size());
    int const paths = static_cast<int>(model.live.size());
    auto const planned = planned_currents(model);
    for (int k = 0; k < inputs; ++k) {
        for (int path = 0; path < paths; ++path)
            if (path != planned.path[static_cast<std::size_t>(k)])
                list.push_back({Stage::conductor, on_path, k, path, odds.ct_wrong_conductor});
        // What turns or silences all CTs at once does so to an only one.
        list.push_back({Stage::ct, reverse, k, 0, odds.ct_reversed + (inputs == 1 ? odds.all_cts_reversed : 0.0)});
        list.push_back({Stage::ct, kill, k, 0, odds.ct_dead + (inputs == 1 ? odds.all_cts_dead : 0.0)});
        for (int other = k + 1; other < inputs; ++other) {
            list.push_back({Stage::lead, exchange, k, other, odds.two_cts_exchanged});
            if (!facts.current_loops) continue;
            list.push_back({Stage::lead, cross_sum, k, other, odds.leads_crossed});
            list.push_back({Stage::lead, cross_difference, k, other, odds.leads_crossed});
        }
    }
    if (inputs > 1) {
        list.push_back({Stage::ct, reverse_all, 0, 0, odds.all_cts_reversed});
        list.push_back({Stage::ct, kill_all, 0, 0, odds.all_cts_dead});
    }
    if (inputs == 3)
        for (int by : {1, 2}) list.push_back({Stage::lead, rotate, 0, by, odds.cts_rotated});
    if (facts.raw_coil_odds > 0.0) list.push_back({Stage::setting, raw_coil, 0, 0, facts.raw_coil_odds});
    if (facts.vars_were_read) list.push_back({Stage::setting, turn_vars, 0, 0, odds.vars_turned});
    std::ranges::stable_sort(list, {}, &CurrentPrimitive::stage);
    return list;
}

std::vector<TapPrimitive> tap_primitives(plan::ServiceModel const& model, Odds const& odds, PointFacts const& facts) {
    using enum TapDeed;
    std::vector<TapPrimitive> list;
    int const terminals = static_cast<int>(model.terminals.size());
    if (model.has_neutral && terminals > 1)
        list.push_back({Stage::conductor, break_supply_neutral, 0, 0, odds.supply_neutral_broken});
    for (int t = 0; t < terminals; ++t) {
        list.push_back({Stage::terminal, lose, t, 0, odds.tap_lost});
        if (facts.voltage_transformers) list.push_back({Stage::terminal, turn_vt, t, 0, odds.vt_reversed});
        if (model.has_neutral) {
            list.push_back({Stage::terminal, swap_neutral, t, 0, odds.tap_on_neutral});
            list.push_back({Stage::terminal, to_neutral, t, 0, 0.5 * odds.tap_on_neutral});
            list.push_back({Stage::terminal, neutral_to, 0, t, 0.5 * odds.tap_on_neutral});
        }
        for (int other = 0; other < terminals; ++other) {
            if (other == t) continue;
            list.push_back({Stage::terminal, duplicate, t, other, odds.tap_doubled});
            if (other > t) list.push_back({Stage::terminal, exchange, t, other, odds.two_taps_exchanged});
        }
    }
    if (terminals == 3)
        for (int by : {1, 2}) list.push_back({Stage::terminal, rotate, 0, by, odds.taps_rotated});
    // With a single tap a lost neutral is a lost voltage.
    if (model.has_neutral && terminals > 1) list.push_back({Stage::terminal, lose_neutral, 0, 0, odds.neutral_lost});
    if (facts.voltage_transformers)
        for (int r = 1; r < static_cast<int>(usual_vt_ratios.size()); ++r)
            list.push_back({Stage::setting, vt_ratio, 0, r, odds.vt_ratio / (static_cast<double>(usual_vt_ratios.size()) - 1.0)});
    if (model.elements.size() == 3 && facts.two_elements_odds > 0.0)
        list.push_back({Stage::setting, two_elements, 0, 0, facts.two_elements_odds});
    return list;
}

std::vector<RatioPrimitive> ratio_primitives(plan::ServiceModel const& model, Odds const& odds, PointFacts const& facts) {
    std::vector<RatioPrimitive> list;
    int const inputs = static_cast<int>(model.current_inputs.size());
    for (std::size_t r = 1; r < usual_ratios.size(); ++r) {
        // Twice and half come about in most ways: the next standard primary, two turns, one of two parallel cables.
        bool const two = usual_ratios[r] == 2.0 || usual_ratios[r] == 0.5;
        double const share = two ? 0.25 : 0.5 / static_cast<double>(usual_ratios.size() - 3);
        list.push_back({-1, usual_ratios[r], odds.ratio_of_all * share});
        if (inputs == 1) continue;
        for (int k = 0; k < inputs; ++k) list.push_back({k, usual_ratios[r], odds.ratio_of_one * share});
    }
    auto const& programmed = facts.programmed;
    bool const differs = std::ranges::any_of(programmed, [](double quotient) { return quotient != 1.0; });
    if (!differs) return list;
    bool const same = std::ranges::adjacent_find(programmed, std::not_equal_to{}) == programmed.end();
    if (same) {
        list.push_back({-1, programmed[0], odds.ratio_as_programmed});
        return list;
    }
    for (int k = 0; k < inputs; ++k)
        if (double const quotient = programmed[static_cast<std::size_t>(k)]; quotient != 1.0)
            list.push_back({k, quotient, odds.ratio_as_programmed});
    return list;
}

void apply(TapPrimitive const& primitive, plan::ServiceModel const& model, TapLanding& tap) {
    auto const at = static_cast<std::size_t>(primitive.at);
    auto const other = static_cast<std::size_t>(primitive.other);
    switch (primitive.deed) {
        case TapDeed::exchange:
            std::swap(tap.terminal[at], tap.terminal[other]);
            std::swap(tap.turned[at], tap.turned[other]);
            break;
        case TapDeed::rotate:
            rotate_first(tap.terminal, model.terminals.size(), primitive.other);
            rotate_first(tap.turned, model.terminals.size(), primitive.other);
            break;
        case TapDeed::duplicate: tap.terminal[at] = tap.terminal[other]; break;
        case TapDeed::swap_neutral: std::swap(tap.terminal[at], tap.neutral); break;
        case TapDeed::to_neutral: tap.terminal[at] = tap.neutral; break;
        case TapDeed::neutral_to: tap.neutral = tap.terminal[other]; break;
        case TapDeed::lose: tap.terminal[at] = Touch::lost; break;
        case TapDeed::lose_neutral: tap.neutral = Touch::lost; break;
        case TapDeed::turn_vt: tap.turned[at] = static_cast<std::int8_t>(-tap.turned[at]); break;
        case TapDeed::vt_ratio: tap.vt_ratio = static_cast<std::uint8_t>(primitive.other); break;
        case TapDeed::two_elements: tap.two_elements = true; break;
        case TapDeed::break_supply_neutral: tap.supply_neutral_broken = true; break;
    }
}

void apply(CurrentPrimitive const& primitive, plan::ServiceModel const& model, CurrentLanding& current) {
    auto const at = static_cast<std::size_t>(primitive.at);
    auto const other = static_cast<std::size_t>(primitive.other);
    std::size_t const inputs = model.current_inputs.size();
    switch (primitive.deed) {
        case CurrentDeed::on_path: current.path[at] = static_cast<std::int16_t>(primitive.other); break;
        case CurrentDeed::reverse: current.sign[at] = static_cast<std::int8_t>(-current.sign[at]); break;
        case CurrentDeed::reverse_all:
            for (std::size_t k = 0; k < inputs; ++k) current.sign[k] = static_cast<std::int8_t>(-current.sign[k]);
            break;
        case CurrentDeed::kill: current.path[at] = dead_path; break;
        case CurrentDeed::kill_all:
            for (std::size_t k = 0; k < inputs; ++k) current.path[k] = dead_path;
            break;
        case CurrentDeed::exchange:
            std::swap(current.path[at], current.path[other]);
            std::swap(current.sign[at], current.sign[other]);
            break;
        case CurrentDeed::rotate:
            rotate_first(current.path, inputs, primitive.other);
            rotate_first(current.sign, inputs, primitive.other);
            break;
        case CurrentDeed::cross_sum:
        case CurrentDeed::cross_difference: {
            // One loop for two CTs: reversing either turns an aiding pair into an opposing one.
            bool const dead = current.path[at] == dead_path || current.path[other] == dead_path;
            int const sense = (primitive.deed == CurrentDeed::cross_sum ? 1 : -1) * current.sign[at] * current.sign[other];
            for (auto const k : {at, other}) current.path[k] = dead ? dead_path : crossed_path;
            current.sign[at] = 1;
            current.sign[other] = static_cast<std::int8_t>(sense);
            break;
        }
        case CurrentDeed::raw_coil: current.coil = true; break;
        case CurrentDeed::turn_vars: current.vars_turned = true; break;
    }
}

bool exclude_each_other(TapPrimitive const& a, TapPrimitive const& b) {
    if (a.deed != b.deed) return a.deed == TapDeed::break_supply_neutral || b.deed == TapDeed::break_supply_neutral;
    if (a.deed == TapDeed::rotate || a.deed == TapDeed::vt_ratio) return true;
    return a.at == b.at && (a.deed == TapDeed::duplicate || a.other == b.other);
}

bool exclude_each_other(CurrentPrimitive const& a, CurrentPrimitive const& b) {
    using enum CurrentDeed;
    auto const crosses = [](CurrentPrimitive const& one) { return one.deed == cross_sum || one.deed == cross_difference; };
    if (crosses(a) && crosses(b)) return true;
    if (a.deed != b.deed) return (a.deed == kill_all && b.deed == kill) || (a.deed == kill && b.deed == kill_all);
    return a.deed == rotate || (a.at == b.at && (a.deed == on_path || a.other == b.other));
}

}  // namespace phasewright::diagnosis
