#include "core/diagnosis/answers.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <complex>
#include <functional>
#include <string_view>

#include "core/diagnosis/answers_power.hpp"
#include "core/diagnosis/gaussians.hpp"
#include "core/diagnosis/load_steps.hpp"

namespace phasewright::diagnosis {

namespace {
using readings::TestAnswer;
using wiring::Touch;
using Complex = std::complex<double>;

constexpr double slip = 0.01;        // an answer that was written down wrong
constexpr double clamp_spread = 0.03;  // clamp and display, and the load between the two looks
constexpr double one_log_unit = 0.2;   // density of a current of which nothing is known, per unit of logarithm

std::optional<std::size_t> index_of(std::string_view name, std::string_view prefix, std::vector<std::string> const& names) {
    for (std::size_t k = 0; k < names.size(); ++k)
        if (names[k] == name) return k;
    if (!name.starts_with(prefix)) return std::nullopt;
    std::size_t number = 0;
    auto const digits = name.substr(prefix.size());
    auto const end = std::from_chars(digits.data(), digits.data() + digits.size(), number);
    if (end.ec != std::errc{} || number == 0) return std::nullopt;
    return number - 1;
}

std::optional<std::size_t> terminal_of(TestAnswer const& answer, readings::ReadingSet const& set, plan::ServiceModel const& model) {
    if (answer.at_what != "terminal") return std::nullopt;
    auto const found = index_of(answer.at, "V", set.terminals.voltage);
    if (found && *found < model.terminals.size()) return found;
    return std::nullopt;
}

// The current input that an answer speaks of: by CT, by branch, or by the conductor that is meant for it.
std::optional<std::size_t> input_of(TestAnswer const& answer, readings::ReadingSet const& set, plan::ServiceModel const& model) {
    if (answer.at_what == "ct") {
        auto const found = index_of(answer.at, "CT", {});
        if (found && *found < model.current_inputs.size()) return found;
    }
    if (answer.at_what == "branch")
        for (std::size_t k = 0; k < set.model_options.branches.size(); ++k)
            if (set.model_options.branches[k].id == answer.at) return k;
    if (answer.at_what == "conductor")
        if (auto const conductor = plan::conductor_of(answer.at))
            for (std::size_t k = 0; k < model.current_inputs.size(); ++k)
                if (model.current_inputs[k] == *conductor) return k;
    return std::nullopt;
}

bool is_at_neutral(TestAnswer const& answer, readings::ReadingSet const& set) {
    return answer.at_what == "terminal" && answer.at == set.terminals.neutral && model_of(set).has_neutral;
}

double sure(bool as_said) { return as_said ? 1.0 - slip : slip; }

// By tap landing.
using TapDensity = std::function<double(TapLanding const&, TapView const&)>;
// By current landing and ratio.
using CurrentDensity = std::function<double(CurrentLanding const&, RatioSetting const&)>;

double volts_density(double read, std::optional<double> predicted, double nominal_v, std::optional<double> u) {
    double const sigma = std::hypot(0.03 * nominal_v, u.value_or(0.0));
    double const anything = 1.0 / (2.0 * nominal_v);
    if (!predicted) return anything;  // a floating terminal
    return (1.0 - slip) * normal_density(read - *predicted, sigma) + slip * anything;
}

std::optional<double> between(Touch touch, Complex other, plan::SourcePhasors const& u) {
    if (touch == Touch::lost) return std::nullopt;
    return std::abs(u[static_cast<std::size_t>(touch)] - other);
}

// From the meter's neutral terminal to the neutral bar, or to earth: nothing between them when the lead is sound.
std::optional<TapDensity> neutral_density(TestAnswer const& answer, AnswerBasis const& basis) {
    auto const& u = basis.u;
    double const nominal_v = basis.set.nominal.v_ll;
    if ((answer.kind == "tap_to_bus" || answer.kind == "terminal_to_earth") && answer.value)
        return [=, &u](TapLanding const& tap, TapView const&) {
            return volts_density(*answer.value, between(tap.neutral, u[3], u), nominal_v, answer.u);
        };
    if (answer.kind == "lead_traced" && !answer.word.empty())
        return [=](TapLanding const& tap, TapView const&) { return sure(wiring::word_of(tap.neutral) == answer.word); };
    return std::nullopt;
}

std::optional<TapDensity> tap_density(TestAnswer const& answer, AnswerBasis const& basis) {
    if (is_at_neutral(answer, basis.set)) return neutral_density(answer, basis);
    auto const terminal = terminal_of(answer, basis.set, basis.landings.model);
    if (!terminal) return std::nullopt;
    auto const t = *terminal;
    auto const own = basis.landings.model.terminals[t];
    auto const& u = basis.u;
    double const nominal_v = basis.set.nominal.v_ll;
    if (answer.kind == "tap_to_bus" && answer.value)
        return [=, &u](TapLanding const& tap, TapView const&) {
            return volts_density(*answer.value, between(tap.terminal[t], u[static_cast<std::size_t>(own)], u), nominal_v, answer.u);
        };
    if (answer.kind == "terminal_to_earth" && answer.value) {
        // The neutral is earthed; on a corner-earthed delta the earthed phase is.
        auto const earthed = static_cast<std::size_t>(basis.set.earthed.value_or(plan::Conductor::n));
        return [=, &u](TapLanding const& tap, TapView const&) {
            return volts_density(*answer.value, between(tap.terminal[t], u[earthed], u), nominal_v, answer.u);
        };
    }
    if (answer.kind == "fuse_opened" && answer.before && answer.during) {
        bool const went = *answer.during < 0.5 * *answer.before;
        return [=](TapLanding const& tap, TapView const&) { return sure(went == (tap.terminal[t] == wiring::touch_of(own))); };
    }
    if (answer.kind == "lead_traced" && !answer.word.empty())
        return [=](TapLanding const& tap, TapView const&) { return sure(wiring::word_of(tap.terminal[t]) == answer.word); };
    return std::nullopt;
}

// What a clamp round the conductor of path `path` says of the element that shows it.
double clamp_density(double clamped, std::size_t path, CurrentLanding const& current, RatioSetting const& ratio,
                     AnswerBasis const& basis, double spread) {
    auto const& group = basis.observed.last;
    double const floor = basis.observed.dead_floor_a.front();
    auto const& model = basis.landings.model;
    bool const carries = clamped >= floor;
    for (std::size_t k = 0; k < model.current_inputs.size(); ++k) {
        if (current.path[k] != static_cast<int>(path)) continue;
        std::size_t element = 0;
        while (element < model.elements.size() && model.elements[element].current_input != static_cast<int>(k)) ++element;
        if (element == model.elements.size() || !group.amps[element]) continue;
        if (!group.flowing[element]) return carries ? 1e-4 : 1.0;
        if (!carries) return 1e-4;
        double const off = std::log(clamped) - std::log(*group.amps[element] / ratio[k]);
        return (1.0 - slip) * normal_density(off, spread) + slip * one_log_unit;
    }
    return carries ? one_log_unit : 0.01;  // no input shows this conductor, and it would have to be unloaded too
}

bool near(double found, double expected) { return std::abs(found / expected - 1.0) < 0.02; }

// A window turns the ratio by a whole number of turns, or by a share of the cables.
bool window_gives(double quotient) {
    double const turns = quotient >= 1.0 ? quotient : 1.0 / quotient;
    return turns > 1.5 && near(turns, std::round(turns));
}

// Programmed over installed as this answer alone has it; empty when the answer says nothing of it.
std::optional<double> quotient_told(TestAnswer const& answer, std::size_t input, readings::ReadingSet const& set) {
    if (!answer.value || *answer.value <= 0.0) return std::nullopt;
    if (answer.kind == "turns_in_window") return answer.value;  // n turns show n times the current
    if (answer.kind == "cables_in_window") return *answer.value / answer.of.value_or(1.0);
    if (answer.kind != "nameplate" || set.ct_planned.empty()) return std::nullopt;
    // The meter is programmed as planned unless it says otherwise.
    auto const& list = set.ct_programmed.empty() ? set.ct_planned : set.ct_programmed;
    return list[std::min(input, list.size() - 1)].primary / *answer.value;
}

// A plate, the turns and the cables, the setting at the keypad are each one cause of a wrong ratio: an answer speaks of
// its own cause and leaves the others as they were. `plate_alone`: a plate tells what is fitted, and the meter does not
// say what is programmed; somebody who fitted another CT may have programmed it. Shares are common practice, no source.
double ratio_density(double ratio, double told, bool plate, bool plate_alone) {
    constexpr double by_window = 0.4;  // of the wrong ratios that a window can give
    if (near(ratio, told)) return 1.0 - slip;
    double const rest = ratio / told;  // what another cause would have to give
    bool const by_other_cause = plate ? plate_alone || window_gives(rest) : !window_gives(rest);
    if (near(told, 1.0)) {
        if (!plate) return by_other_cause ? 1.0 - slip : 1.0 - by_window;
        return by_other_cause ? 0.5 : slip;
    }
    if (plate_alone && near(ratio, 1.0)) return 0.1;
    constexpr double this_very_slip = 0.2;  // a slip that hits just this value of the many wrong ones
    return by_other_cause && !plate_alone ? 0.03 : slip * this_very_slip;
}

// The inputs that an answer about ratios speaks of: the one at its place, or all when it names no place.
std::vector<std::size_t> inputs_of(TestAnswer const& answer, readings::ReadingSet const& set, plan::ServiceModel const& model) {
    if (auto const one = input_of(answer, set, model)) return {*one};
    std::vector<std::size_t> all;
    for (std::size_t k = 0; answer.at_what.empty() && k < model.current_inputs.size(); ++k) all.push_back(k);
    return all;
}

bool speaks_of_ratio(TestAnswer const& answer) {
    return answer.kind == "nameplate" || answer.kind == "turns_in_window" || answer.kind == "cables_in_window";
}

std::optional<CurrentDensity> ratio_answer(TestAnswer const& answer, AnswerBasis const& basis) {
    std::vector<std::pair<std::size_t, double>> told;
    for (auto const input : inputs_of(answer, basis.set, basis.landings.model))
        if (auto const quotient = quotient_told(answer, input, basis.set)) told.emplace_back(input, *quotient);
    if (told.empty()) return std::nullopt;
    bool const plate = answer.kind == "nameplate";
    bool const plate_alone = plate && basis.set.ct_programmed.empty();
    return [=](CurrentLanding const&, RatioSetting const& ratio) {
        double density = 1.0;
        for (auto const& [input, quotient] : told) density *= ratio_density(ratio[input], quotient, plate, plate_alone);
        return density;
    };
}

std::optional<CurrentDensity> current_density(TestAnswer const& answer, AnswerBasis const& basis) {
    if (speaks_of_ratio(answer)) return ratio_answer(answer, basis);
    auto const input = input_of(answer, basis.set, basis.landings.model);
    if (!input) return std::nullopt;
    auto const k = *input;
    auto const& model = basis.landings.model;
    auto const& planned = basis.landings.currents[basis.landings.current_of[basis.landings.planned]];
    if (answer.kind == "clamp_primary" && answer.value) {
        auto const path = planned.path[k] < 0 ? k : static_cast<std::size_t>(planned.path[k]);
        double const spread = *answer.value > 0.0 ? std::hypot(clamp_spread, answer.u.value_or(0.0) / *answer.value) : clamp_spread;
        return [=, &basis](CurrentLanding const& current, RatioSetting const& ratio) {
            return clamp_density(*answer.value, path, current, ratio, basis, spread);
        };
    }
    if (answer.kind == "clamp_secondary" && answer.value) {
        bool const carries = *answer.value > 0.002;  // A: a loop that is shorted before the meter still carries its current
        bool const shown = basis.observed.last.flowing[k];
        return [=](CurrentLanding const& current, RatioSetting const&) {
            if (current.path[k] < 0) return carries ? 0.5 : shown ? slip : 0.5;  // shorted, or open
            return sure(carries == shown);
        };
    }
    if (answer.kind == "ct_shorted" && answer.before && answer.during) {
        bool const went = *answer.during < 0.5 * *answer.before;
        auto const own = planned.path[k];
        return [=](CurrentLanding const& current, RatioSetting const&) {
            if (current.path[k] == own) return sure(went);
            return 0.5;  // its leads may come from another CT, or its CT sits on another conductor
        };
    }
    if (answer.kind == "lead_traced" && !answer.word.empty())
        return [=, &model](CurrentLanding const& current, RatioSetting const&) {
            if (current.path[k] < 0) return sure(answer.word == "dead");
            return sure(answer.word == std::string(1, plan::letter_of(model.live[static_cast<std::size_t>(current.path[k])])));
        };
    return std::nullopt;
}

bool is_at_known_place(TestAnswer const& answer, readings::ReadingSet const& set, plan::ServiceModel const& model) {
    if (is_other_power(answer) || is_power_change(answer)) {
        auto const conductors = conductors_of(answer, set, model);
        return answer.at_what.empty() ||
               (conductors.size() == 1 && std::ranges::find(model.live, conductors.front()) != model.live.end());
    }
    if (speaks_of_ratio(answer)) {
        auto const inputs = inputs_of(answer, set, model);
        return !inputs.empty() && quotient_told(answer, inputs.front(), set).has_value();
    }
    static constexpr std::array<std::string_view, 3> without_place{"rotation_at_source", "generation_stopped", "bill_pf"};
    if (std::ranges::find(without_place, answer.kind) != without_place.end()) return true;
    return terminal_of(answer, set, model).has_value() || input_of(answer, set, model).has_value() || is_at_neutral(answer, set);
}
}  // namespace

readings::ReadingSet with_stated_facts(readings::ReadingSet const& set) {
    auto stated = set;
    for (auto const& answer : set.tests) {
        if (answer.kind == "rotation_at_source")
            if (auto const sequence = plan::sequence_of(answer.word)) stated.rotation = sequence;
        if (answer.kind == "generation_stopped" && (answer.word == "yes" || answer.word == "no"))
            for (auto& snapshot : stated.snapshots)
                if (!snapshot.generation_running) snapshot.generation_running = answer.word == "yes";
    }
    return stated;
}

bool could_be_made(readings::TestAnswer const& answer) {
    return answer.value || !answer.word.empty() || (answer.before && answer.during) || !answer.before_each.empty();
}

std::vector<std::string> answers_not_weighed(readings::ReadingSet const& set) {
    std::vector<std::string> list;
    auto const model = model_of(set);
    for (auto const& answer : set.tests)
        if (could_be_made(answer) && !is_at_known_place(answer, set, model)) list.push_back("tests." + answer.kind);
    return list;
}

bool same_place(readings::TestAnswer const& answer, std::string_view kind, std::string_view at, readings::ReadingSet const& set) {
    if (answer.kind != kind) return false;
    if (answer.at == at) return true;
    auto const model = model_of(set);
    readings::TestAnswer asked{.kind = std::string(kind), .at = std::string(at)};
    asked.at_what = at.starts_with("CT") ? "ct" : plan::conductor_of(at) ? "conductor" : "terminal";
    if (auto const terminal = terminal_of(answer, set, model)) return terminal == terminal_of(asked, set, model);
    if (auto const input = input_of(answer, set, model)) return input == input_of(asked, set, model);
    return false;
}

std::optional<double> bill_power_factor(readings::ReadingSet const& set) {
    for (auto const& answer : set.tests)
        if (answer.kind == "bill_pf" && answer.value && *answer.value > 0.0 && *answer.value <= 1.0) return answer.value;
    return std::nullopt;
}

namespace {
struct Pinned {
    readings::ReadingSet const& set;
    Landings const& landings;
    plan::SourcePhasors const& u;
    std::size_t hypothesis;
};
constexpr double parts_a_million = 1e6;

// What one answer pins: only what that kind of test looks at.
void pin_answer(readings::TestAnswer const& answer, Pinned const& at, std::vector<long long>& pins) {
    if (!could_be_made(answer)) return;
    auto const& model = at.landings.model;
    auto const& current = at.landings.currents[at.landings.current_of[at.hypothesis]];
    auto const& ratio = at.landings.ratios[at.landings.ratio_of[at.hypothesis]];
    if (auto const terminal = terminal_of(answer, at.set, model))
        pins.push_back(static_cast<long long>(at.landings.taps[at.landings.tap_of[at.hypothesis]].terminal[*terminal]));
    if (is_at_neutral(answer, at.set))
        pins.push_back(static_cast<long long>(at.landings.taps[at.landings.tap_of[at.hypothesis]].neutral));
    if (is_power_change(answer) && !answer.at_what.empty()) {
        auto const moved = moved_per_watt(wiring::seen_by(wiring_of(at.landings, at.hypothesis), model), model, at.u,
                                          conductors_of(answer, at.set, model));
        long long total = 0;
        for (auto const& one : moved) {
            auto const part = std::llround((one.stray_a > 0.0 ? 9.0 : one.w) * parts_a_million);
            total += part;
            if (!answer.before_each.empty()) pins.push_back(part);
        }
        if (answer.before_each.empty()) pins.push_back(total);
        return;
    }
    if (is_other_power(answer)) return;  // a power is the same whatever the conductors are called
    if (speaks_of_ratio(answer)) {
        for (auto const input : inputs_of(answer, at.set, model)) pins.push_back(std::llround(ratio[input] * parts_a_million));
        return;
    }
    auto const input = input_of(answer, at.set, model);
    if (!input) return;
    pins.push_back(current.path[*input]);
    if (answer.kind == "clamp_primary") pins.push_back(std::llround(ratio[*input] * parts_a_million));
}
}  // namespace

std::vector<long long> pinned_predictions(readings::ReadingSet const& set, Landings const& landings,
                                          plan::SourcePhasors const& u, std::size_t hypothesis) {
    std::vector<long long> pins;
    for (auto const& answer : set.tests) pin_answer(answer, {set, landings, u, hypothesis}, pins);
    if (set.steps.empty()) return pins;
    auto const seen = wiring::seen_by(wiring_of(landings, hypothesis), landings.model);
    for (auto const& step : set.steps) {
        wiring::Currents change{};
        for (auto const conductor : step.conductors)
            if (conductor != plan::Conductor::n) change[static_cast<std::size_t>(conductor)] += u[static_cast<std::size_t>(conductor)];
        for (auto const& element : wiring::elements_of(seen, u, change)) {
            pins.push_back(std::llround(element.s.real()));
            pins.push_back(std::llround(element.s.imag()));
        }
    }
    return pins;
}

void weigh_answers(AnswerBasis const& basis, std::vector<double>& log_weight) {
    auto const& landings = basis.landings;
    for (auto const& answer : basis.set.tests) {
        if (auto const density = tap_density(answer, basis)) {
            std::vector<double> by_tap;
            for (std::size_t tap = 0; tap < landings.taps.size(); ++tap)
                by_tap.push_back(std::log((*density)(landings.taps[tap], basis.views[tap]) + 1e-300));
            for (std::size_t h = 0; h < landings.size(); ++h) log_weight[h] += by_tap[landings.tap_of[h]];
        }
        if (auto const density = current_density(answer, basis)) {
            std::vector<std::optional<double>> known(landings.currents.size() * landings.ratios.size());
            for (std::size_t h = 0; h < landings.size(); ++h) {
                auto& entry = known[landings.current_of[h] * landings.ratios.size() + landings.ratio_of[h]];
                if (!entry)
                    entry = std::log((*density)(landings.currents[landings.current_of[h]], landings.ratios[landings.ratio_of[h]]) + 1e-300);
                log_weight[h] += *entry;
            }
        }
    }
    weigh_powers(basis, log_weight);
    weigh_steps(basis, log_weight);
}

}  // namespace phasewright::diagnosis
