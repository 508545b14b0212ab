#include "core/diagnosis/primitives.hpp"

#include <algorithm>
#include <utility>

namespace phasewright::diagnosis {

namespace {
using wiring::Touch;

void add_current_mistakes(std::vector<Primitive>& list, plan::ServiceModel const& model, Odds const& odds) {
    int const inputs = static_cast<int>(model.current_inputs.size());
    int const paths = static_cast<int>(model.live.size());
    auto const planned = planned_draft(model);
    for (int k = 0; k < inputs; ++k) {
        for (int path = 0; path < paths; ++path)
            if (path != planned.current.path[static_cast<std::size_t>(k)])
                list.push_back({Stage::conductor, Deed::ct_on_path, k, path, 1.0, odds.ct_wrong_conductor});
        list.push_back({Stage::ct, Deed::ct_reverse, k, 0, 1.0, odds.ct_reversed});
        list.push_back({Stage::ct, Deed::ct_kill, k, 0, 1.0, odds.ct_dead});
        for (int other = k + 1; other < inputs; ++other)
            list.push_back({Stage::lead, Deed::cts_exchange, k, other, 1.0, odds.two_cts_exchanged});
    }
    if (inputs > 1) {
        list.push_back({Stage::ct, Deed::cts_reverse_all, 0, 0, 1.0, odds.all_cts_reversed});
        list.push_back({Stage::ct, Deed::cts_kill_all, 0, 0, 1.0, odds.all_cts_dead});
    }
    if (inputs == 3)
        for (int by : {1, 2}) list.push_back({Stage::lead, Deed::cts_rotate, 0, by, 1.0, odds.cts_rotated});
}

void add_tap_mistakes(std::vector<Primitive>& list, plan::ServiceModel const& model, Odds const& odds) {
    int const terminals = static_cast<int>(model.terminals.size());
    for (int t = 0; t < terminals; ++t) {
        list.push_back({Stage::terminal, Deed::tap_lose, t, 0, 1.0, odds.tap_lost});
        if (model.has_neutral) {
            list.push_back({Stage::terminal, Deed::tap_swap_neutral, t, 0, 1.0, odds.tap_on_neutral});
            list.push_back({Stage::terminal, Deed::tap_to_neutral, t, 0, 1.0, 0.5 * odds.tap_on_neutral});
            list.push_back({Stage::terminal, Deed::neutral_to_tap, 0, t, 1.0, 0.5 * odds.tap_on_neutral});
        }
        for (int other = 0; other < terminals; ++other) {
            if (other == t) continue;
            list.push_back({Stage::terminal, Deed::tap_double, t, other, 1.0, odds.tap_doubled});
            if (other > t)
                list.push_back({Stage::terminal, Deed::taps_exchange, t, other, 1.0, odds.two_taps_exchanged});
        }
    }
    if (terminals == 3)
        for (int by : {1, 2}) list.push_back({Stage::terminal, Deed::taps_rotate, 0, by, 1.0, odds.taps_rotated});
    // With a single tap a lost neutral is a lost voltage.
    if (model.has_neutral && terminals > 1)
        list.push_back({Stage::terminal, Deed::neutral_lose, 0, 0, 1.0, odds.neutral_lost});
}

void add_ratio_mistakes(std::vector<Primitive>& list, plan::ServiceModel const& model, Odds const& odds,
                        std::span<double const> programmed) {
    int const inputs = static_cast<int>(model.current_inputs.size());
    for (std::size_t r = 1; r < usual_ratios.size(); ++r) {
        // Twice and half come about in most ways: the next standard primary, two turns, one of two parallel cables.
        bool const two = usual_ratios[r] == 2.0 || usual_ratios[r] == 0.5;
        double const share = two ? 0.25 : 0.5 / static_cast<double>(usual_ratios.size() - 3);
        list.push_back({Stage::setting, Deed::ratio_set, -1, 0, usual_ratios[r], odds.ratio_of_all * share});
        if (inputs == 1) continue;
        for (int k = 0; k < inputs; ++k)
            list.push_back({Stage::setting, Deed::ratio_set, k, 0, usual_ratios[r], odds.ratio_of_one * share});
    }
    bool const differs = std::ranges::any_of(programmed, [](double quotient) { return quotient != 1.0; });
    if (!differs) return;
    bool const same = std::ranges::adjacent_find(programmed, std::not_equal_to{}) == programmed.end();
    if (same) {
        list.push_back({Stage::setting, Deed::ratio_set, -1, 0, programmed[0], odds.ratio_as_programmed});
        return;
    }
    for (int k = 0; k < inputs; ++k)
        if (double const quotient = programmed[static_cast<std::size_t>(k)]; quotient != 1.0)
            list.push_back({Stage::setting, Deed::ratio_set, k, 0, quotient, odds.ratio_as_programmed});
}
}  // namespace

Draft planned_draft(plan::ServiceModel const& model) {
    Draft draft;
    draft.tap.terminal.fill(Touch::lost);
    draft.tap.neutral = model.has_neutral ? Touch::n : Touch::lost;
    for (std::size_t t = 0; t < model.terminals.size(); ++t)
        draft.tap.terminal[t] = wiring::touch_of(model.terminals[t]);
    draft.current.path.fill(-1);
    draft.current.sign.fill(1);
    // Input k is meant for the first path on its conductor that no input before it has taken.
    std::array<bool, 3> taken{};
    for (std::size_t k = 0; k < model.current_inputs.size(); ++k)
        for (std::size_t path = 0; path < model.live.size(); ++path)
            if (!taken[path] && model.live[path] == model.current_inputs[k]) {
                draft.current.path[k] = static_cast<std::int16_t>(path);
                taken[path] = true;
                break;
            }
    return draft;
}

std::vector<Primitive> primitives_of(plan::ServiceModel const& model, Odds const& odds,
                                     std::span<double const> programmed) {
    std::vector<Primitive> list;
    add_current_mistakes(list, model, odds);
    add_tap_mistakes(list, model, odds);
    add_ratio_mistakes(list, model, odds, programmed);
    std::ranges::stable_sort(list, {}, &Primitive::stage);
    return list;
}

namespace {
template <class Array>
void rotate_first(Array& values, std::size_t count, int by) {
    auto const before = values;
    for (std::size_t k = 0; k < count; ++k) values[k] = before[(k + static_cast<std::size_t>(by)) % count];
}
}  // namespace

void apply(Primitive const& primitive, plan::ServiceModel const& model, Draft& draft) {
    auto const at = static_cast<std::size_t>(primitive.at < 0 ? 0 : primitive.at);
    auto const other = static_cast<std::size_t>(primitive.other);
    std::size_t const inputs = model.current_inputs.size();
    auto& current = draft.current;
    auto& tap = draft.tap;
    switch (primitive.deed) {
        case Deed::ct_on_path: current.path[at] = static_cast<std::int16_t>(primitive.other); break;
        case Deed::ct_reverse: current.sign[at] = static_cast<std::int8_t>(-current.sign[at]); break;
        case Deed::cts_reverse_all:
            for (std::size_t k = 0; k < inputs; ++k) current.sign[k] = static_cast<std::int8_t>(-current.sign[k]);
            break;
        case Deed::ct_kill: current.path[at] = -1; break;
        case Deed::cts_kill_all:
            for (std::size_t k = 0; k < inputs; ++k) current.path[k] = -1;
            break;
        case Deed::cts_exchange:
            std::swap(current.path[at], current.path[other]);
            std::swap(current.sign[at], current.sign[other]);
            break;
        case Deed::cts_rotate:
            rotate_first(current.path, inputs, primitive.other);
            rotate_first(current.sign, inputs, primitive.other);
            break;
        case Deed::taps_exchange: std::swap(tap.terminal[at], tap.terminal[other]); break;
        case Deed::taps_rotate: rotate_first(tap.terminal, model.terminals.size(), primitive.other); break;
        case Deed::tap_double: tap.terminal[at] = tap.terminal[other]; break;
        case Deed::tap_swap_neutral: std::swap(tap.terminal[at], tap.neutral); break;
        case Deed::tap_to_neutral: tap.terminal[at] = tap.neutral; break;
        case Deed::neutral_to_tap: tap.neutral = tap.terminal[other]; break;
        case Deed::tap_lose: tap.terminal[at] = Touch::lost; break;
        case Deed::neutral_lose: tap.neutral = Touch::lost; break;
        case Deed::ratio_set:
            for (std::size_t k = 0; k < inputs; ++k)
                if (primitive.at < 0 || k == at) draft.ratio[k] *= primitive.value;
            break;
    }
}

bool exclude_each_other(Primitive const& a, Primitive const& b) {
    if (a.deed == Deed::ratio_set && b.deed == Deed::ratio_set) return true;
    if (a.deed != b.deed) return a.deed == Deed::cts_kill_all && b.deed == Deed::ct_kill;
    bool const whole = a.deed == Deed::cts_rotate || a.deed == Deed::taps_rotate;
    return whole || (a.at == b.at && (a.deed == Deed::ct_on_path || a.deed == Deed::tap_double || a.other == b.other));
}

}  // namespace phasewright::diagnosis
