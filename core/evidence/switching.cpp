#include "core/evidence/switching.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "core/evidence/switching_model.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::evidence {

namespace {
using quantity::Fault;
constexpr double moved_surely = 3.0;      // in nats: twenty to one; and of a change, in noises
constexpr double worth_naming = 1e-3;     // probability
constexpr double explained_within = 4.0;  // noises, of a parent's fall

struct Floor {
    std::vector<SwitchedMeter> candidates;  // meters that see one circuit alone
    std::map<std::string, std::size_t> place;
    std::vector<SwitchedMeter> const* all = nullptr;
};

Floor floor_of(std::vector<SwitchedMeter> const& meters) {
    Floor floor{.all = &meters};
    for (auto const& meter : meters) {
        bool const parent =
            std::ranges::any_of(meters, [&](auto const& other) { return other.parent == meter.id; });
        if (parent) continue;
        floor.place.emplace(meter.id, floor.candidates.size());
        floor.candidates.push_back(meter);
    }
    return floor;
}

std::optional<Fault> step_fault(SwitchingStep const& step, Floor const& floor) {
    std::vector<std::string> ids;
    for (auto const& meter : *floor.all) ids.push_back(meter.id);
    if (!floor.place.contains(step.circuit)) {
        bool const parent = std::ranges::find(ids, step.circuit) != ids.end();
        return Fault{
            parent ? "other meters hang behind this circuit" : "no meter of the plan has this circuit",
            "circuit", step.circuit, "the circuit of a meter that has no others behind it",
            parent ? "switch the circuits behind it one by one"
                   : "did you mean \"" + quantity::nearest_word(step.circuit, ids) + "\"?"};
    }
    for (auto const& one : step.readings) {
        if (std::ranges::find(ids, one.meter) == ids.end())
            return Fault{"a reading names no meter of the plan", "meter", one.meter,
                         quantity::joined(ids, ", "),
                         "did you mean \"" + quantity::nearest_word(one.meter, ids) + "\"?"};
        if (one.before_w.empty() || one.during_w.empty())
            return Fault{"a meter was not read before and during", "meter", one.meter,
                         "readings before and during", "leave a meter out that does not answer"};
    }
    if (step.readings.empty())
        return Fault{"a step has no readings", "step", step.circuit, "readings of the meters", ""};
    return std::nullopt;
}

SwitchedReadings const* readings_of(SwitchingStep const& step, std::string const& meter) {
    auto const found = std::ranges::find(step.readings, meter, &SwitchedReadings::meter);
    return found == step.readings.end() ? nullptr : &*found;
}

std::string parent_of(Floor const& floor, std::string const& id) {
    auto const found = std::ranges::find(*floor.all, id, &SwitchedMeter::id);
    return found == floor.all->end() ? std::string{} : found->parent;
}

bool stands_above(Floor const& floor, std::string const& upper, std::string id) {
    for (std::size_t k = 0; k < floor.all->size(); ++k) {  // no plan is deeper than it has meters
        id = parent_of(floor, id);
        if (id.empty()) return false;
        if (id == upper) return true;
    }
    return false;
}

Moved moved_in(SwitchingStep const& step, Floor const& floor, std::vector<double> const& gains,
               SwitchingSettings const& settings) {
    Moved moved{.circuit = step.circuit};
    auto const best = std::ranges::max_element(gains);
    if (best != gains.end() && *best > moved_surely) {
        moved.meter = floor.candidates[static_cast<std::size_t>(best - gains.begin())].id;
        auto const motion = motion_of(*readings_of(step, moved.meter), settings);
        moved.fell_w = -motion.change;
    }
    auto const parent = parent_of(floor, step.circuit);
    if (auto const* const above = parent.empty() ? nullptr : readings_of(step, parent); above != nullptr) {
        auto const motion = motion_of(*above, settings);
        moved.parent_fell_w = -motion.change;
        if (!moved.meter.empty() && std::abs(moved.fell_w) > moved_surely * motion.noise)
            moved.parent_agrees = std::abs(-motion.change - moved.fell_w) <= explained_within * motion.noise;
    }
    for (auto const& one : step.readings) {
        if (one.meter == moved.meter || stands_above(floor, one.meter, step.circuit)) continue;
        auto const motion = motion_of(one, settings);
        if (std::abs(motion.change) > 5.0 * motion.noise) moved.odd.push_back(one.meter);
    }
    return moved;
}

std::vector<double> gains_of(SwitchingStep const& step, Floor const& floor,
                             SwitchingSettings const& settings) {
    std::vector<double> gains;
    for (auto const& meter : floor.candidates) {
        auto const* const read = readings_of(step, meter.id);
        gains.push_back(read == nullptr ? 0.0 : motion_of(*read, settings).gain());
    }
    return gains;
}

Follows marginal(std::size_t circuit, std::vector<Pairing> const& pairings, Floor const& floor, bool tested,
                 SwitchingSettings const& settings) {
    std::map<int, double> share;
    for (auto const& one : pairings) share[one.meter_of[circuit]] += one.probability;
    if (!tested)  // nobody looked: one mistake more is always possible
        for (auto& [meter, p] : share) p *= 1.0 - settings.interchange;
    std::vector<std::pair<int, double>> order(share.begin(), share.end());
    std::ranges::stable_sort(order,
                             [](auto const& one, auto const& other) { return one.second > other.second; });
    auto const name = [&](int meter) {
        return meter < 0 ? std::string{} : floor.candidates[static_cast<std::size_t>(meter)].id;
    };
    Follows follows{
        .circuit = floor.candidates[circuit].id, .probability = order.front().second, .tested = tested};
    if (order.front().first >= 0) follows.meter = name(order.front().first);
    follows.as_planned = follows.meter == follows.circuit;
    for (std::size_t k = 1; k < order.size(); ++k)
        if (order[k].second > worth_naming)
            follows.others.emplace_back(order[k].first < 0 ? "none" : name(order[k].first), order[k].second);
    return follows;
}

// The uncertainty that a test of this circuit would take away, in nats, as far as its load can be seen at
// all.
double worth_testing(Follows const& follows, std::vector<SwitchingStep> const& steps,
                     SwitchingSettings const& settings) {
    double left = std::max(1e-12, 1.0 - follows.probability);
    double entropy = -follows.probability * std::log(std::max(1e-12, follows.probability));
    for (auto const& [meter, p] : follows.others) {
        entropy -= p * std::log(p);
        left -= p;
    }
    if (left > 1e-9) entropy -= left * std::log(left);
    if (steps.empty()) return entropy;
    auto const* const read = readings_of(steps.back(), follows.circuit);
    if (read == nullptr) return 0.0;
    auto const motion = motion_of(*read, settings);
    double const strength = std::abs(motion.before) / (moved_surely * motion.noise);
    return entropy * std::min(1.0, strength);
}

void propose_next(SwitchingResult& result, Floor const& floor, std::vector<SwitchingStep> const& steps,
                  SwitchingSettings const& settings) {
    double most = 0.0;
    for (auto const& follows : result.circuits) {
        if (follows.seen && follows.probability >= settings.sure) continue;
        if (!floor.candidates[floor.place.at(follows.circuit)].may_switch) continue;
        double const worth = worth_testing(follows, steps, settings);
        if (worth <= most + 1e-12) continue;
        most = worth;
        result.next = follows.circuit;
        result.why_next =
            follows.tested        ? "its test did not settle it: put more load on it and switch it again"
            : !follows.as_planned ? "the others say that its current is counted by " +
                                        follows.meter.value_or("none of these meters") + ": see it"
                                  : "nobody has seen which meter follows it";
    }
}

void conclude(SwitchingResult& result, SwitchingSettings const& settings) {
    bool all_sure = true;
    for (auto const& follows : result.circuits) {
        bool const sure = follows.seen && follows.probability >= settings.sure;
        if (follows.tested && !sure) all_sure = false;
        if (sure && !follows.as_planned)
            result.interchanged.emplace_back(follows.circuit, follows.meter.value_or(""));
    }
    auto const tested = std::ranges::count_if(result.circuits, &Follows::tested);
    if (!result.interchanged.empty()) {
        result.outcome = Outcome::fail;
        auto const& [circuit, meter] = result.interchanged.front();
        result.reason = meter.empty() ? "none of the meters counts the circuit of " + circuit
                                      : "the circuit of " + circuit + " is counted by the meter of " + meter;
    } else if (tested > 0 && all_sure) {
        result.outcome = Outcome::pass;
        result.reason = "every circuit that was switched is counted by its own meter";
    } else {
        result.reason = tested == 0 ? "no circuit has been switched"
                                    : "the loads wander too much, or are too small, to tell";
    }
}
}  // namespace

std::expected<SwitchingResult, Fault> switched(std::vector<SwitchedMeter> const& meters,
                                               std::vector<SwitchingStep> const& steps,
                                               SwitchingSettings const& settings) {
    auto const floor = floor_of(meters);
    if (floor.candidates.empty())
        return std::unexpected(
            Fault{"there is no meter that follows one circuit alone", "meters", "", "at least one", ""});
    std::vector<std::size_t> tested;
    std::vector<std::vector<double>> gains;
    SwitchingResult result;
    for (auto const& step : steps) {
        if (auto fault = step_fault(step, floor)) return std::unexpected(*fault);
        auto const of_step = gains_of(step, floor, settings);
        result.steps.push_back(moved_in(step, floor, of_step, settings));
        auto const circuit = floor.place.at(step.circuit);
        auto const again = std::ranges::find(tested, circuit);
        if (again == tested.end()) {
            tested.push_back(circuit);
            gains.push_back(of_step);
            continue;
        }
        auto& sum = gains[static_cast<std::size_t>(again - tested.begin())];
        for (std::size_t m = 0; m < sum.size(); ++m) sum[m] += of_step[m];
    }
    auto const seen = [&](Follows const& follows, std::size_t circuit) {
        auto const at = std::ranges::find(tested, circuit);
        if (at == tested.end()) return false;
        auto const& sum = gains[static_cast<std::size_t>(at - tested.begin())];
        return follows.meter ? sum[floor.place.at(*follows.meter)] > moved_surely
                             : sum[circuit] < -moved_surely;
    };
    auto const pairings = pairings_of(tested, gains, floor.candidates, settings);
    for (std::size_t c = 0; c < floor.candidates.size(); ++c) {
        result.circuits.push_back(
            marginal(c, pairings, floor, std::ranges::find(tested, c) != tested.end(), settings));
        result.circuits.back().seen = seen(result.circuits.back(), c);
    }
    conclude(result, settings);
    propose_next(result, floor, steps, settings);
    return result;
}

}  // namespace phasewright::evidence
