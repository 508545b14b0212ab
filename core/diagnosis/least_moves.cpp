#include "core/diagnosis/least_moves.hpp"

#include <algorithm>
#include <array>
#include <map>
#include <optional>
#include <utility>

namespace phasewright::diagnosis {

namespace {
using wiring::Touch;

// What moves cost, in lead ends at the meter; at the conductors everything must be dead first.
constexpr int one_lead = 1;
constexpr int at_the_conductor = 4;
constexpr int one_ct = 9;

template <class State>
struct Step {
    State to;
    int cost = 0;
    Difference difference;
};

// The cheapest way from `start` to `goal`. `steps_from` lists what can be done in a state.
template <class State, class Steps>
std::vector<Difference> cheapest(State const& start, State const& goal, Steps const& steps_from) {
    struct Node {
        int cost = 0;
        std::optional<State> before;
        Difference by;
        bool settled = false;
    };
    std::map<State, Node> nodes{{start, {}}};
    std::vector<std::pair<int, State>> open{{0, start}};
    auto const dearer = [](auto const& a, auto const& b) { return a.first > b.first; };
    while (!open.empty()) {
        std::ranges::pop_heap(open, dearer);
        auto const [cost, state] = open.back();
        open.pop_back();
        if (std::exchange(nodes[state].settled, true)) continue;
        if (state == goal) break;
        for (auto const& step : steps_from(state)) {
            auto const [entry, is_new] = nodes.try_emplace(step.to);
            auto& node = entry->second;
            if (!is_new && (node.settled || node.cost <= cost + step.cost)) continue;
            node = {cost + step.cost, state, step.difference};
            open.emplace_back(node.cost, step.to);
            std::ranges::push_heap(open, dearer);
        }
    }
    std::vector<Difference> path;
    for (auto state = goal; nodes.contains(state) && nodes[state].before; state = *nodes[state].before)
        path.push_back(nodes[state].by);
    std::ranges::reverse(path);
    return path;
}

// Terminals first, the neutral terminal last; a meter without one has it lost for good.
using Taps = std::array<Touch, 4>;
constexpr std::size_t neutral_at = 3;

class TapMoves {
   public:
    explicit TapMoves(plan::ServiceModel const& model) : terminals_(model.terminals.size()), has_neutral_(model.has_neutral) {
        planned_.fill(Touch::lost);
        for (std::size_t t = 0; t < terminals_; ++t) planned_[t] = wiring::touch_of(model.terminals[t]);
        if (has_neutral_) planned_[neutral_at] = Touch::n;
    }
    [[nodiscard]] Taps const& planned() const { return planned_; }

    [[nodiscard]] std::vector<Step<Taps>> from(Taps const& taps) const {
        std::vector<Step<Taps>> steps;
        for (std::size_t t = 0; t < terminals_; ++t) {
            for (std::size_t other = t + 1; other < terminals_; ++other)
                exchange(taps, t, other, {.piece = Piece::taps_exchanged, .at = t, .other = other}, steps);
            if (has_neutral_) exchange(taps, t, neutral_at, {.piece = Piece::tap_on_neutral, .at = t}, steps);
            land(taps, t, {.piece = Piece::tap_elsewhere, .at = t}, {.piece = Piece::tap_lost, .at = t}, steps);
        }
        if (has_neutral_) land(taps, neutral_at, {.piece = Piece::neutral_elsewhere}, {.piece = Piece::neutral_lost}, steps);
        if (terminals_ < 3) return steps;
        for (std::size_t const by : {1U, 2U}) {
            auto to = taps;
            for (std::size_t t = 0; t < 3; ++t) to[t] = taps[(t + by) % 3];
            // Its words name where each lead belongs, so it must bring all three there.
            if (std::equal(to.begin(), to.begin() + 3, planned_.begin())) steps.push_back({to, 3 * one_lead, {.piece = Piece::taps_rotated}});
        }
        return steps;
    }

   private:
    static void exchange(Taps const& taps, std::size_t one, std::size_t other, Difference const& difference,
                         std::vector<Step<Taps>>& steps) {
        if (taps[one] == taps[other] || taps[one] == Touch::lost || taps[other] == Touch::lost) return;
        auto to = taps;
        std::swap(to[one], to[other]);
        steps.push_back({to, 2 * one_lead, difference});
    }
    // A lead that touches the wrong conductor, or nothing, is brought to its own.
    void land(Taps const& taps, std::size_t t, Difference elsewhere, Difference const& lost, std::vector<Step<Taps>>& steps) const {
        if (taps[t] == planned_[t]) return;
        auto to = taps;
        to[t] = planned_[t];
        if (taps[t] != Touch::lost) elsewhere.conductor = static_cast<plan::Conductor>(taps[t]);
        steps.push_back({to, at_the_conductor, taps[t] == Touch::lost ? lost : elsewhere});
    }

    std::size_t terminals_;
    bool has_neutral_;
    Taps planned_{};
};

using Feeds = std::array<wiring::Feed, 3>;

class CurrentMoves {
   public:
    explicit CurrentMoves(plan::ServiceModel const& model) : inputs_(model.current_inputs.size()) {
        for (std::size_t k = 0; k < inputs_; ++k) planned_[k] = {model.current_inputs[k], +1, false};
    }
    [[nodiscard]] Feeds const& planned() const { return planned_; }

    [[nodiscard]] std::vector<Step<Feeds>> from(Feeds const& feeds) const {
        std::vector<Step<Feeds>> steps;
        bool all_dead = inputs_ > 1;
        for (std::size_t k = 0; k < inputs_; ++k) all_dead = all_dead && feeds[k].dead;
        if (all_dead) return {{planned_, one_ct, {.piece = Piece::all_dead}}};
        for (std::size_t k = 0; k < inputs_; ++k) {
            auto to = feeds;
            if (feeds[k].dead) {
                to[k] = planned_[k];
                steps.push_back({to, one_ct, {.piece = Piece::input_dead, .at = k}});
                continue;
            }
            to[k].sign = static_cast<std::int8_t>(-to[k].sign);
            steps.push_back({to, 2 * one_lead, {.piece = Piece::input_reversed, .at = k}});
            if (feeds[k].conductor != planned_[k].conductor) {
                to = feeds;
                to[k].conductor = planned_[k].conductor;
                steps.push_back({to, one_ct, {.piece = Piece::ct_elsewhere, .at = k, .conductor = feeds[k].conductor}});
            }
            for (std::size_t other = k + 1; other < inputs_; ++other) {
                if (feeds[other].dead || feeds[other] == feeds[k]) continue;
                to = feeds;
                std::swap(to[k], to[other]);
                steps.push_back({to, 4 * one_lead, {.piece = Piece::inputs_exchanged, .at = k, .other = other}});
            }
        }
        if (inputs_ < 3) return steps;
        for (std::size_t const by : {1U, 2U}) {
            auto to = feeds;
            for (std::size_t k = 0; k < 3; ++k) to[k] = feeds[(k + by) % 3];
            if (std::ranges::equal(to, planned_, {}, &wiring::Feed::conductor, &wiring::Feed::conductor)) steps.push_back({to, 6 * one_lead, {.piece = Piece::inputs_rotated}});
        }
        return steps;
    }

   private:
    std::size_t inputs_;
    Feeds planned_{};
};

// Turning every pair round is one job, in one sequence.
void join_reversals(std::vector<Difference>& moves, std::size_t inputs) {
    auto const is_reversal = [](Difference const& d) { return d.piece == Piece::input_reversed; };
    if (inputs < 2 || static_cast<std::size_t>(std::ranges::count_if(moves, is_reversal)) != inputs) return;
    std::erase_if(moves, is_reversal);
    moves.push_back({.piece = Piece::all_reversed});
}

// What leads and CTs have nothing to do with, in the order of differences_of.
bool is_setting(Difference const& d) {
    switch (d.piece) {
        case Piece::ratio_of_one:
        case Piece::ratio_of_all:
        case Piece::raw_coil:
        case Piece::vars_turned:
        case Piece::vt_reversed:
        case Piece::vt_ratio:
        case Piece::two_element_setting: return true;
        default: return false;
    }
}
}  // namespace

std::vector<Difference> least_moves(wiring::Wiring const& wiring, plan::ServiceModel const& model) {
    TapMoves const tap_moves(model);
    Taps taps;
    taps.fill(Touch::lost);
    for (std::size_t t = 0; t < std::min(wiring.voltage.size(), neutral_at); ++t) taps[t] = wiring.voltage[t];
    if (wiring.neutral) taps[neutral_at] = *wiring.neutral;
    auto moves = cheapest(taps, tap_moves.planned(), [&](Taps const& state) { return tap_moves.from(state); });
    if (wiring.supply_neutral_broken) moves.insert(moves.begin(), {.piece = Piece::supply_neutral_broken});

    CurrentMoves const current_moves(model);
    auto feeds = current_moves.planned();
    auto const all = differences_of(wiring, model);
    for (auto const& difference : all)
        if (difference.piece == Piece::loops_joined) moves.push_back(difference);
    for (std::size_t k = 0; k < std::min(wiring.current.size(), feeds.size()); ++k) {
        if (wiring.current[k].with) continue;  // parted whole
        feeds[k] = wiring.current[k];
        feeds[k].quarter_turn = false;
        if (feeds[k].dead) feeds[k] = {.conductor = current_moves.planned()[k].conductor, .dead = true};
    }
    auto of_currents = cheapest(feeds, current_moves.planned(), [&](Feeds const& state) { return current_moves.from(state); });
    join_reversals(of_currents, wiring.current.size());
    moves.insert(moves.end(), of_currents.begin(), of_currents.end());
    for (auto const& difference : all)
        if (is_setting(difference)) moves.push_back(difference);
    return moves;
}

}  // namespace phasewright::diagnosis
