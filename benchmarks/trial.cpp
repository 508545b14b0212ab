#include "benchmarks/trial.hpp"

#include <algorithm>

namespace phasewright::benchmarks {

namespace {
Belief drawn_belief(Dice& dice, Order const& order) {
    if (order.kind_known) return dice.happens(0.5) ? Belief::motor : Belief::resistive;
    if (order.mix != Mix::shifted) return Belief::unknown;
    // Three sites in ten export, three lead far.
    double const u = dice.share();
    return u < 0.3 ? Belief::exporting : u < 0.6 ? Belief::leading : Belief::unknown;
}
}  // namespace

Drawn drawn_case(Dice& dice, Meter const& meter, Order const& order, std::vector<Mistake> const& possible) {
    Drawn drawn;
    drawn.mistakes = drawn_mistakes(dice, possible, order.mix, order.ratios);
    drawn.landing = landing_of(meter, drawn.mistakes);
    drawn.habit = drawn_habit(dice, drawn_belief(dice, order));
    if (order.mix == Mix::matched) as_believed(dice, meter, drawn.habit);
    // A source may turn the other way, where nobody told the rotation and, in the matched world, where somebody
    // told it wrong; the odds are the engine's.
    diagnosis::SupplyPriors const believed;
    double const turned_back = !order.rotation_told         ? 1.0 - believed.sequence_abc
                               : order.mix == Mix::matched ? 1.0 - believed.sequence_known
                                                           : 0.0;
    Turn const turn = turned_back > 0.0 && dice.happens(turned_back) ? Turn::acb : Turn::abc;
    auto const supply = drawn_supply(dice, meter, turn);
    auto& set = drawn.set;
    set.id = "benchmark";
    set.service = meter.service;
    set.nominal = {meter.v_ln, meter.v_ll, 50.0};
    set.ct_planned = {{breaker_a, 5.0}};
    set.ct_output = plan::CtOutput::five_amperes;
    set.breaker_a = breaker_a;
    if (order.rotation_told) set.rotation = plan::Sequence::abc;
    if (drawn.habit.belief == Belief::motor) set.load_kind.whole = plan::LoadKind::motor;
    if (drawn.habit.belief == Belief::resistive) set.load_kind.whole = plan::LoadKind::resistive;
    for (int moment = 0; moment < order.snapshots; ++moment) {
        auto const now = a_moment_later(dice, supply);
        auto const load = drawn_load(dice, meter, now, drawn.habit);
        auto const shown = shown_by(meter, drawn.landing, now, load);
        set.snapshots.push_back(read(dice, meter, shown, {order.mix == Mix::shifted, order.angles}));
        drawn.true_w = 0.0;
        for (std::size_t c = 0; c < load.size(); ++c) drawn.true_w += (now[c] * std::conj(load[c])).real();
    }
    return drawn;
}

bool is_right(Likeness const& likeness, Landing const& planted, std::vector<Landing> const& wirings) {
    if (wirings.empty()) return false;
    return likeness.alike(planted, wirings[0]) || std::ranges::find(wirings, planted) != wirings.end();
}

std::vector<Landing> landings_of(diagnosis::WiringClass const& named) {
    std::vector<Landing> landings;
    // What this world never makes can never be right.
    if (!is_known_here(named.wirings[0].wiring)) return {};
    for (auto const& member : named.wirings)
        if (is_known_here(member.wiring)) landings.push_back(landing_of(member.wiring));
    return landings;
}
Judged judged(Drawn const& drawn, diagnosis::Verdict const& verdict, Meter const& meter,
              Likeness const& likeness) {
    Judged result;
    result.as_planned = likeness.alike(drawn.landing, as_planned(meter));
    bool const loaded = std::ranges::count(drawn.habit.unloaded, true) == 0;
    result.recoverable = loaded && recoverable(meter, drawn.landing);
    result.true_w = drawn.true_w;
    result.answered = !verdict.classes.empty();
    result.alarmed = verdict.state == diagnosis::State::mistake;
    if (!result.answered) return result;
    result.probability = verdict.classes[0].probability;
    result.exact = landing_of(verdict.classes[0].wirings[0].wiring) == drawn.landing;
    double sum = 0.0;
    for (std::size_t c = 0; c < verdict.classes.size(); ++c) {
        bool const right = is_right(likeness, drawn.landing, landings_of(verdict.classes[c]));
        if (right && !result.place) result.place = c;
        if (sum < 0.95) {
            ++result.set_size;
            result.in_set = result.in_set || right;
        }
        sum += verdict.classes[c].probability;
    }
    result.p_w = verdict.true_power.p_w;
    result.p05_w = verdict.true_power.p05_w;
    result.p95_w = verdict.true_power.p95_w;
    return result;
}

}  // namespace phasewright::benchmarks
