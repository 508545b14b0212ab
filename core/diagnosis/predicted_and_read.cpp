// What was promised beside what came, element by element. Every width is 99 % of what the priors believe of
// two readings: a site's mean angle wanders twice (sqrt 2), a phase's own angle and share are its spread
// about the site's with their tails, of which most stays from one reading to the next. No angle is ever
// allowed more than 30 degrees, half of the turn that the mildest wrong pairing makes, so that a reading is
// always nearer to what it is taken for.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/diagnosis/confirmation.hpp"
#include "core/diagnosis/observed.hpp"
#include "core/quantity/angle.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::diagnosis {

namespace {
constexpr double ninety_nine = 2.5758293035489004;  // of the standard normal, two-sided
constexpr double half_a_pairing_deg = 30.0;

double of_mixture(double usual, double tail, double tail_weight) {
    return std::sqrt((1.0 - tail_weight) * usual * usual + tail_weight * tail * tail);
}

void set_widths(Comparison& c, Priors const& priors) {
    auto const& spread = priors.spread;
    auto const& supply = priors.supply;
    double const phase = of_mixture(spread.phase_deg, spread.phase_tail_deg, spread.phase_tail_weight);
    double const share =
        of_mixture(spread.log_magnitude, spread.log_magnitude_tail, spread.log_magnitude_tail_weight);
    double const whole = of_mixture(supply.common, supply.common_tail, supply.common_tail_weight);
    double const one = of_mixture(supply.phase, supply.phase_tail, supply.phase_tail_weight);
    c.turn_allowed_deg = std::min(half_a_pairing_deg, ninety_nine * std::numbers::sqrt2 * spread.wander_deg);
    c.one_turn_allowed_deg = std::min(half_a_pairing_deg, ninety_nine * phase);
    c.one_current_factor_allowed = std::exp(ninety_nine * share);
    c.voltage_factor_allowed = std::exp(ninety_nine * std::numbers::sqrt2 * whole);
    c.one_voltage_factor_allowed = std::exp(ninety_nine * std::numbers::sqrt2 * one);
}

// Of the candidates the one that the others are nearest to; of equals the smaller. A wrong element does not
// move it.
template <class Distance>
std::optional<double> median_of(std::vector<double> const& values, double allowed, Distance const& distance) {
    std::optional<double> best;
    double least = 0.0;
    for (double const candidate : values) {
        if (std::abs(candidate) > allowed) continue;
        double sum = 0.0;
        for (double const value : values) sum += distance(value, candidate);
        bool const nearer = !best || sum < least - 1e-9;
        bool const as_near = best && std::abs(sum - least) <= 1e-9 && std::abs(candidate) < std::abs(*best);
        if (nearer || as_near) {
            best = candidate;
            least = sum;
        }
    }
    return best;
}
double turned(double a, double b) { return std::abs(quantity::wrapped_deg(a - b)); }
double apart(double a, double b) { return std::abs(a - b); }

struct Loads {
    std::vector<double> compare_from_a;  // below it an element's angle and share say little
    std::vector<double> dead_below_a;
};
Loads loads_of(readings::ReadingSet const& set, Thresholds const& thresholds) {
    auto const observed = observed_of(set, thresholds);
    Loads loads;
    for (std::size_t k = 0; k < observed.elements; ++k) {
        loads.compare_from_a.push_back(
            std::max(thresholds.low_load_share * observed.ct_primary_a[k], observed.dead_floor_a[k]));
        loads.dead_below_a.push_back(observed.dead_floor_a[k]);
    }
    return loads;
}

std::string element_name(readings::ReadingSet const& set, plan::ServiceModel const& model, std::size_t k) {
    auto name = "element " + std::to_string(k + 1);
    int const input = model.elements[k].current_input;
    if (input < 0) return name;
    auto const conductor = model.current_inputs[static_cast<std::size_t>(input)];
    return name + " (" + set.region.conductors[static_cast<std::size_t>(conductor)] + ")";
}

bool was_to_change(ElementValues const& before, ElementValues const& predicted) {
    constexpr double turn_deg = 15.0;
    constexpr double share = 0.1;
    auto const moved = [&](std::optional<double> const& a, std::optional<double> const& b) {
        return a && b && std::abs(*a - *b) > share * std::max(std::abs(*a), std::abs(*b));
    };
    if (before.lag_deg.has_value() != predicted.lag_deg.has_value()) return true;
    bool const lag = before.lag_deg && turned(*before.lag_deg, *predicted.lag_deg) > turn_deg;
    return lag || moved(before.v, predicted.v) || moved(before.i, predicted.i);
}

std::string degrees(double value) { return quantity::fixed(value, 1) + "\u00b0"; }
std::string times(double factor) { return quantity::fixed(factor, 2) + " times"; }

// The way in which the element is off, ready to be joined.
struct Off {
    std::vector<std::string> wiring, current;
};

void judge_lag(Comparison& c, ElementComparison& e, ElementValues const& before, Off& off) {
    double const turn = quantity::wrapped_deg(*e.read.lag_deg - *e.predicted.lag_deg);
    if (!c.turn_deg) {
        off.wiring.push_back("its lag is " + degrees(turn) + " from the predicted one");
    } else {
        e.turn_deg = quantity::wrapped_deg(turn - *c.turn_deg);
        if (std::abs(*e.turn_deg) <= c.one_turn_allowed_deg) return;
        off.wiring.push_back("its lag is " + degrees(*e.turn_deg) +
                             " from the predicted one, beyond what the others did");
    }
    bool const as_before = before.lag_deg && turned(*e.read.lag_deg - c.turn_deg.value_or(0.0),
                                                    *before.lag_deg) <= c.one_turn_allowed_deg;
    if (!e.was_to_change)
        off.wiring.emplace_back("it was to stay as it was");
    else if (as_before)
        off.wiring.emplace_back("it reads as before the move");
}

// Where the meter tells no vars, the sign of the power is all there is of the angle.
void judge_direction(ElementComparison& e, Off& off) {
    constexpr double clear_share = 0.2;
    if (!e.read.p || !e.predicted.p || !e.read.v || !e.read.i) return;
    bool const clear = std::abs(*e.read.p) > clear_share * *e.read.v * *e.read.i;
    if (clear && (*e.read.p < 0.0) != (*e.predicted.p < 0.0))
        off.wiring.emplace_back("its power has the other sign than predicted");
}

void judge_current(Comparison const& c, ElementComparison& e, Off& off) {
    e.current_factor = *e.read.i / *e.predicted.i / *c.current_factor;
    if (std::abs(std::log(*e.current_factor)) <= std::log(c.one_current_factor_allowed)) return;
    off.current.push_back("its current is " + times(*e.current_factor) + " the predicted share");
}

void judge_voltage(Comparison const& c, ElementComparison& e, Off& off) {
    e.voltage_factor = *e.read.v / *e.predicted.v / *c.voltage_factor;
    if (std::abs(std::log(*e.voltage_factor)) <= std::log(c.one_voltage_factor_allowed)) return;
    off.wiring.push_back("its voltage is " + times(*e.voltage_factor) + " the predicted one");
}

bool both(std::optional<double> const& a, std::optional<double> const& b) {
    return a && b && *a > 0.0 && *b > 0.0;
}

void common_changes(Comparison& c, std::vector<bool> const& loaded) {
    std::vector<double> turns;
    std::vector<double> currents;
    std::vector<double> volts;
    for (std::size_t k = 0; k < c.elements.size(); ++k) {
        auto const& e = c.elements[k];
        if (both(e.read.v, e.predicted.v)) volts.push_back(std::log(*e.read.v / *e.predicted.v));
        if (!loaded[k]) continue;
        currents.push_back(std::log(*e.read.i / *e.predicted.i));
        if (e.read.lag_deg && e.predicted.lag_deg)
            turns.push_back(quantity::wrapped_deg(*e.read.lag_deg - *e.predicted.lag_deg));
    }
    constexpr double any = 1e9;
    c.turn_deg = median_of(turns, c.turn_allowed_deg, turned);
    if (auto const level = median_of(currents, any, apart)) c.current_factor = std::exp(*level);
    if (auto const level = median_of(volts, any, apart)) c.voltage_factor = std::exp(*level);
    if (!turns.empty() && !c.turn_deg)
        c.against.push_back("no element's lag is within " + degrees(c.turn_allowed_deg) +
                            " of the predicted one, which is as far as a site's load usually turns");
    if (c.voltage_factor && std::abs(std::log(*c.voltage_factor)) > std::log(c.voltage_factor_allowed))
        c.against.push_back("the voltages are " + times(*c.voltage_factor) + " the predicted ones");
}

void judge(Comparison& c, ElementComparison& e, ElementValues const& before, bool loaded, double dead_below_a,
           bool was_loaded, Off& off) {
    bool any = false;
    if (both(e.read.v, e.predicted.v)) {
        judge_voltage(c, e, off);
    } else if (e.predicted.v && e.read.v) {
        off.wiring.emplace_back("it reads no voltage");
    }
    if (loaded) {
        any = true;
        judge_current(c, e, off);
        if (e.read.lag_deg && e.predicted.lag_deg)
            judge_lag(c, e, before, off);
        else
            judge_direction(e, off);
    } else if (was_loaded && e.read.i && *e.read.i < dead_below_a) {
        off.wiring.push_back(
            "it reads no current where " + quantity::fixed(*e.predicted.i, 1) +
            " A were predicted: its load is off, or its loop may be open and must be treated so");
    }
    if (!off.wiring.empty() || !off.current.empty()) {
        e.agrees = false;
        auto parts = off.wiring;
        parts.insert(parts.end(), off.current.begin(), off.current.end());
        e.why = quantity::joined(parts, "; ");
    } else if (any) {
        e.agrees = true;
        bool const by_sign = !(e.read.lag_deg && e.predicted.lag_deg);
        e.why = by_sign ? "as predicted, as far as the sign of its power tells" : "as predicted";
    } else {
        bool const known = e.predicted.i.has_value();
        e.why = known ? "too little current to compare, now or before the move"
                      : "nothing was predicted of its current";
    }
}
}  // namespace

Comparison compare(RepairDone const& repair, std::vector<ElementValues> const& read, Priors const& priors) {
    Comparison c;
    set_widths(c, priors);
    auto const model = readings::model_of(repair.after);
    auto const& predicted = repair.verdict.after_repair;
    auto const& before = repair.verdict.as_read;
    auto const loads = loads_of(repair.after, priors.thresholds);
    std::vector<bool> loaded;
    for (std::size_t k = 0; k < read.size(); ++k) {
        ElementComparison e{.name = element_name(repair.after, model, k), .read = read[k]};
        if (k < predicted.size()) {
            e.predicted = predicted[k];
            if (k < before.size()) e.was_to_change = was_to_change(before[k], predicted[k]);
        }
        loaded.push_back(e.read.i && e.predicted.i && *e.read.i >= loads.compare_from_a[k] &&
                         *e.predicted.i >= loads.compare_from_a[k]);
        c.elements.push_back(std::move(e));
    }
    if (predicted.empty()) return c;
    common_changes(c, loaded);
    bool wiring = !c.against.empty();
    bool current = false;
    for (std::size_t k = 0; k < c.elements.size(); ++k) {
        auto& e = c.elements[k];
        bool const was_loaded = e.predicted.i && *e.predicted.i >= loads.compare_from_a[k];
        Off off;
        judge(c, e, k < before.size() ? before[k] : ElementValues{}, loaded[k], loads.dead_below_a[k],
              was_loaded, off);
        wiring = wiring || !off.wiring.empty();
        current = current || !off.current.empty();
    }
    c.by_current_only = current && !wiring;
    return c;
}

}  // namespace phasewright::diagnosis
