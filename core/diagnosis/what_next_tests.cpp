#include "core/diagnosis/what_next_tests.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/diagnosis/answers.hpp"
#include "core/diagnosis/answers_power.hpp"
#include "core/diagnosis/test_catalogue.hpp"
#include "core/quantity/angle.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::diagnosis {

namespace {
using wiring::Touch;
using quantity::degrees_per_radian;
constexpr double clamp_spread = 0.03;
constexpr double usual_load_w = 2000.0;  // a heater or a kettle that is at hand
constexpr double by_window = 0.4;        // of the wrong ratios that a window can give (answers.cpp)

std::string letter(plan::Conductor conductor) { return {plan::letter_of(conductor)}; }
std::string ct_name(std::size_t input) { return "CT" + std::to_string(input + 1); }
std::string volts_text(double v) { return v < 12.0 ? "about 0 V" : "about " + quantity::fixed(v, 0) + " V"; }
std::string watts_text(double w) { return "about " + quantity::with_sign(w / 1000.0, 1) + " kW"; }

bool is_answered(TestSituation const& s, NextTest const& test) {
    return std::ranges::any_of(
        s.set.tests, [&](auto const& answer) { return same_place(answer, test.kind, test.at, s.set); });
}

// Collects proposals that were not answered yet and have more than one outcome.
class List {
public:
    List(TestSituation const& s, std::vector<Possibility> const& possible) : s_(s), possible_(possible) {}
    void add(NextTest test, std::function<Outcomes()> const& outcomes_of) {
        if (is_answered(s_, test)) return;
        add_again(std::move(test), outcomes_of);
    }
    void add_again(NextTest test, std::function<Outcomes()> const& outcomes_of) {
        auto outcomes = outcomes_of();
        if (outcomes.words.size() < 2) return;
        double const cost = cost_of(catalogued(test.kind), test.minutes);
        list_.push_back({std::move(test), std::move(outcomes), cost});
    }
    [[nodiscard]] TestSituation const& situation() const { return s_; }
    [[nodiscard]] std::vector<Possibility> const& possible() const { return possible_; }
    [[nodiscard]] std::vector<Proposal> take() && { return std::move(list_); }

private:
    TestSituation const& s_;
    std::vector<Possibility> const& possible_;
    std::vector<Proposal> list_;
};

// How probable it is that generation runs, if this possibility imports or exports: from the same shares as
// are used when the answer is weighed.
struct Running {
    double if_export = 0.95, if_import = 0.3;
};
Running running_of(TestSituation const& s) {
    auto const kind = s.set.load_kind.whole;
    auto const share = [&](std::optional<bool> running) {
        return load_priors(s.priors.beliefs, kind, s.set.flow, running).atoms.back().weight;
    };
    double const any = share(std::nullopt);
    double const on = share(true);
    double const off = share(false);
    if (on <= off || any <= 0.0 || any >= 1.0) return {};
    double const runs = std::clamp((any - off) / (on - off), 0.02, 0.98);
    return {std::clamp(runs * on / any, 0.02, 0.999),
            std::clamp(runs * (1.0 - on) / (1.0 - any), 0.001, 0.98)};
}

void ask_about_generation(List& list) {
    auto const& s = list.situation();
    bool const possible = s.set.flow != plan::Flow::import_only;
    auto const& running = s.observed.groups.back().generation_running;
    if (!possible) return;
    if (!running) {
        auto const chances = running_of(s);
        auto test = from_catalogue("generation_stopped", {}, "Is generation running now behind this point?");
        test.cautions.clear();  // a question stops nothing
        list.add(std::move(test), [&] {
            return of_chances(list.possible(), [&](Possibility const& one) -> WordChances {
                auto const& p = one.listed->true_power.p_w;
                // Where the power is lost, import is far the likelier.
                double const yes = p && *p < 0.0 ? chances.if_export : chances.if_import;
                return {{"yes: generation runs", yes}, {"no: it does not run", 1.0 - yes}};
            });
        });
        return;
    }
    bool const stopped_before = std::ranges::any_of(s.set.tests, [](auto const& answer) {
        return answer.kind == "generation_stopped" && (is_power_change(answer) || !could_be_made(answer));
    });
    if (!*running || stopped_before) return;
    auto test =
        from_catalogue("generation_stopped", {},
                       "Stop the generation for a minute and note the meter's total W before and during: "
                       "which way does it move?");
    test.minutes = 10.0;
    list.add_again(std::move(test), [&] {
        return of_words(
            list.possible(),
            [&](Possibility const& one) -> std::string {
                double total = 0.0;
                for (auto const& moved : moved_per_watt(one.seen, s.model, one.u, s.model.live))
                    total += moved.w;
                if (std::abs(total) < 0.15) return "it hardly moves";
                return total > 0.0     ? total > 0.75 ? "it rises by the whole generation"
                                                      : "it rises by less than the generation"
                       : total < -0.75 ? "it falls by the whole generation"
                                       : "it falls by less than the generation";
            },
            0.02);
    });
}

void ask_for_volts(List& list) {
    auto const& s = list.situation();
    double const sigma = 0.03 * s.set.nominal.v_ll;
    auto const earthed = static_cast<std::size_t>(s.set.earthed.value_or(plan::Conductor::n));
    auto const guess = [&, sigma](Possibility const& one, std::size_t terminal,
                                  std::size_t against) -> Guess {
        auto const touch = one.wiring->voltage[terminal];
        if (touch == Touch::lost) return {.anything = 1.0, .sigma = sigma};
        return {.at = std::abs(one.u[static_cast<std::size_t>(touch)] - one.u[against]), .sigma = sigma};
    };
    if (s.model.terminals.size() == 3)
        list.add(from_catalogue("rotation_at_source", {},
                                "Which way do the phases turn at the source, by a rotation meter?"),
                 [&] {
                     return of_words(
                         list.possible(),
                         [](Possibility const& one) -> std::string {
                             return one.rotation == plan::Sequence::abc ? "a-b-c" : "a-c-b";
                         },
                         0.005);
                 });
    for (std::size_t t = 0; t < s.model.terminals.size(); ++t) {
        auto const own = static_cast<std::size_t>(s.model.terminals[t]);
        auto const& name = s.names.terminals.voltage[t];
        list.add(from_catalogue("tap_to_bus", name,
                                "Measure from terminal " + name + " to the " +
                                    s.names.conductor(s.model.terminals[t]) +
                                    " busbar with a low-impedance two-pole tester."),
                 [&, t, own] {
                     return of_numbers(
                         list.possible(), [&](Possibility const& one) { return guess(one, t, own); },
                         volts_text, "0 V");
                 });
        list.add(from_catalogue(
                     "terminal_to_earth", name,
                     "Measure from terminal " + name + " to earth with a low-impedance two-pole tester."),
                 [&, t] {
                     return of_numbers(
                         list.possible(), [&](Possibility const& one) { return guess(one, t, earthed); },
                         volts_text, "0 V");
                 });
        list.add(from_catalogue("fuse_opened", name,
                                "Open the voltage fuse of " + s.names.conductor(s.model.terminals[t]) +
                                    " and read the volts at terminal " + name + " before and during."),
                 [&, t, own] {
                     return of_words(list.possible(), [&](Possibility const& one) -> std::string {
                         return one.wiring->voltage[t] == static_cast<Touch>(own)
                                    ? "the volts at " + name + " fall"
                                    : "they stay";
                     });
                 });
    }
}

std::optional<std::size_t> element_of(plan::ServiceModel const& model, std::size_t input) {
    for (std::size_t e = 0; e < model.elements.size(); ++e)
        if (model.elements[e].current_input == static_cast<int>(input)) return e;
    return std::nullopt;
}

// The amperes that a clamp round a conductor would show, as a logarithm.
Guess clamp_guess(TestSituation const& s, Possibility const& one, plan::Conductor conductor) {
    for (std::size_t k = 0; k < one.wiring->current.size(); ++k) {
        auto const& feed = one.wiring->current[k];
        if (feed.dead || feed.conductor != conductor) continue;
        auto const element = element_of(s.model, k);
        if (!element || !s.observed.last.amps[*element]) break;
        if (!s.observed.last.flowing[*element]) return {.nothing = 1.0, .sigma = clamp_spread};
        return {.nothing = 1e-4,
                .at = std::log(*s.observed.last.amps[*element] / one.wiring->ratio[k]),
                .sigma = clamp_spread};
    }
    return {.nothing = 0.05, .anything = 0.95, .sigma = clamp_spread};
}

void ask_for_amperes(List& list) {
    auto const& s = list.situation();
    auto const amperes = [](double log_a) {
        return "about " + quantity::fixed(std::exp(log_a), std::exp(log_a) < 10.0 ? 1 : 0) + " A";
    };
    for (std::size_t k = 0; k < s.model.current_inputs.size(); ++k) {
        auto const conductor = s.model.current_inputs[k];
        auto const phase = s.names.conductor(conductor);
        list.add(from_catalogue("clamp_primary", letter(conductor),
                                "Clamp the insulated " + phase + " conductor: how many amperes? Element " +
                                    std::to_string(k + 1) + " displays its own."),
                 [&, conductor] {
                     return of_numbers(
                         list.possible(),
                         [&](Possibility const& one) { return clamp_guess(s, one, conductor); }, amperes,
                         "no current flows");
                 });
        if (plan::is_current_loop(s.set.ct_output) && loop_was_clamped(s.set, k))
            list.add(from_catalogue("ct_shorted", ct_name(k),
                                    "Close the shorting link of the " + phase +
                                        " CT at its block and read element " + std::to_string(k + 1) +
                                        " before and during."),
                     [&, k, conductor] {
                         return of_chances(
                             list.possible(), [&, k, conductor](Possibility const& one) -> WordChances {
                                 auto const& feed = one.wiring->current[k];
                                 double const falls = !feed.dead && feed.conductor == conductor ? 0.99 : 0.5;
                                 return {{"its amperes fall", falls}, {"they stay", 1.0 - falls}};
                             });
                     });
    }
}

// A known resistive load: which element moves, and by how much of it?
std::string moved_words(std::vector<MovedPerWatt> const& moved) {
    std::vector<std::string> parts;
    for (std::size_t k = 0; k < moved.size(); ++k) {
        // In quarters of the load; the little by which stray volts let an element move is not told from the
        // other loads.
        double const share = std::round(moved[k].w * 4.0) / 4.0;
        if (share == 0.0) continue;
        bool const whole = std::abs(share) == 1.0;
        parts.push_back("element " + std::to_string(k + 1) + (share > 0.0 ? " rises by " : " falls by ") +
                        (whole ? "the load" : quantity::fixed(std::abs(share), 2) + " of the load"));
    }
    return parts.empty() ? "no element moves" : quantity::joined(parts, ", ");
}

// How probable it is that half of the usual load is seen above what the other loads do in the meantime.
double seen_above_the_rest(TestSituation const& s, double load_w) {
    double reliable = 1.0;
    for (std::size_t k = 0; k < s.observed.elements; ++k) {
        double const va =
            s.observed.last_volts[k].value_or(s.set.nominal.v_ln) * s.observed.last.amps[k].value_or(0.0);
        double const noise = std::hypot(0.02 * va, 0.002 * s.set.nominal.v_ln * s.observed.full_load_a + 1.0);
        reliable = std::min(reliable, std::erf(0.25 * load_w / (noise * std::numbers::sqrt2)));
    }
    return reliable;
}

void ask_to_switch(List& list) {
    auto const& s = list.situation();
    auto const outcomes = [&](std::vector<plan::Conductor> const& on, double load_w) {
        double const slip = 1.0 - 0.98 * seen_above_the_rest(s, load_w);
        return of_words(
            list.possible(),
            [&](Possibility const& one) { return moved_words(moved_per_watt(one.seen, s.model, one.u, on)); },
            std::min(slip, 0.45));
    };
    if (!s.model.has_neutral) {
        list.add(from_catalogue(
                     "load_switched", {},
                     "Switch a known three-phase heater on and note every element's W before and during."),
                 [&] { return outcomes(s.model.live, 3.0 * usual_load_w); });
        return;
    }
    for (std::size_t k = 0; k < s.model.current_inputs.size(); ++k) {
        auto const conductor = s.model.current_inputs[k];
        list.add(
            from_catalogue("load_switched", letter(conductor),
                           "Switch a known resistive load (2 kW or more) on " + s.names.conductor(conductor) +
                               " alone and note every element's W before and during."),
            [&] { return outcomes({conductor}, usual_load_w); });
    }
}

// The load's power where only its amperes are known: the phases that are read, and as much for one that is
// not.
double rough_watts(TestSituation const& s, Possibility const& one) {
    double amps = 0.0;
    double read = 0.0;
    for (std::size_t k = 0; k < one.wiring->current.size(); ++k) {
        auto const element = element_of(s.model, k);
        if (one.wiring->current[k].dead || !element || !s.observed.last.amps[*element]) continue;
        amps += *s.observed.last.amps[*element] / one.wiring->ratio[k];
        read += 1.0;
    }
    double const mean = read > 0.0 ? amps / read : s.observed.full_load_a * 0.1;
    return 0.85 * s.set.nominal.v_ln * mean * static_cast<double>(s.model.live.size());
}

void ask_elsewhere(List& list) {
    auto const& s = list.situation();
    list.add(from_catalogue("other_meter", {},
                            "What W does another meter show that sees the same load at the same moment?"),
             [&] {
                 return of_numbers(
                     list.possible(),
                     [&](Possibility const& one) -> Guess {
                         auto const& power = one.listed->true_power;
                         if (!power.p_w) {  // from the amperes alone
                             double const w = rough_watts(s, one);
                             return {.at = w, .sigma = 0.3 * w + 5.0};
                         }
                         return {.at = *power.p_w,
                                 .sigma = 0.04 * std::hypot(*power.p_w, power.q_var.value_or(0.0)) + 5.0};
                     },
                     watts_text, "0 W");
             });
    list.add(from_catalogue("bill_pf", {}, "What mean power factor does the bill of this supply show?"), [&] {
        return of_numbers(
            list.possible(),
            [](Possibility const& one) -> Guess {
                auto const& power = one.listed->true_power;
                if (!power.p_w || !power.q_var) return {.anything = 1.0, .sigma = 12.0};
                double const lag = std::atan2(*power.q_var, *power.p_w) * degrees_per_radian;
                if (lag < -5.0 || lag > 90.0) return {.anything = 1.0, .sigma = 12.0};
                return {.anything = 0.2, .at = std::max(lag, 0.0), .sigma = 12.0};
            },
            [](double deg) { return "about " + quantity::fixed(std::cos(deg / degrees_per_radian), 2); },
            "0");
    });
}

bool is_whole_above_one(double value) {
    return value > 1.5 && std::abs(value - std::round(value)) < 0.02 * value;
}

void ask_about_ratios(List& list) {
    auto const& s = list.situation();
    for (std::size_t k = 0; k < s.model.current_inputs.size(); ++k) {
        auto const phase = s.names.conductor(s.model.current_inputs[k]);
        if (!s.set.ct_planned.empty()) {
            auto const& stated = s.set.ct_programmed.empty() ? s.set.ct_planned : s.set.ct_programmed;
            double const programmed = stated[std::min(k, stated.size() - 1)].primary;
            double const at_keypad = s.set.ct_programmed.empty() ? 0.5 : 0.0;  // then the plate is as planned
            list.add(from_catalogue("nameplate", ct_name(k),
                                    "Read the rated primary current on the plate of the " + phase + " CT."),
                     [&, k] {
                         return of_chances(list.possible(), [&, k](Possibility const& one) -> WordChances {
                             double const ratio = one.wiring->ratio[k];
                             bool const window = is_whole_above_one(ratio) || is_whole_above_one(1.0 / ratio);
                             double const fitted =
                                 ratio == 1.0 ? 1.0 : (1.0 - at_keypad) * (window ? 1.0 - by_window : 1.0);
                             auto const plate = [&](double quotient) {
                                 return "it says " + quantity::fixed(programmed / quotient, 0) + " A";
                             };
                             return {{plate(ratio), 0.99 * fitted},
                                     {plate(1.0), 0.99 * (1.0 - fitted)},
                                     {"it says something else", 0.01}};
                         });
                     });
        }
        auto const count = [&](std::string_view kind, std::string const& what, bool turns) {
            list.add(from_catalogue(kind, ct_name(k), what), [&, k, turns] {
                return of_chances(list.possible(), [&, k, turns](Possibility const& one) -> WordChances {
                    double const ratio = turns ? one.wiring->ratio[k] : 1.0 / one.wiring->ratio[k];
                    double const so_many = is_whole_above_one(ratio) ? 0.99 * by_window : 0.005;
                    auto const other =
                        is_whole_above_one(ratio) ? quantity::fixed(ratio, 0) : std::string{"another number"};
                    return {{turns ? other + " turns" : "one of " + other, so_many},
                            {turns ? "one turn" : "all of them", 1.0 - so_many}};
                });
            });
        };
        count("turns_in_window", "How often does the " + phase + " conductor pass the window of its CT?",
              true);
        count("cables_in_window",
              "How many of the cables of " + phase + " pass the window of its CT, of how many?", false);
    }
}

void ask_to_trace(List& list) {
    auto const& s = list.situation();
    std::string const last = "No quick test parts what is left: ";
    for (std::size_t t = 0; t < s.model.terminals.size(); ++t) {
        auto const& name = s.names.terminals.voltage[t];
        list.add(from_catalogue("lead_traced", name,
                                last + "trace the lead at terminal " + name +
                                    " by hand to the conductor it comes from."),
                 [&, t] {
                     return of_words(list.possible(), [t](Possibility const& one) {
                         return "it comes from " + wiring::word_of(one.wiring->voltage[t]);
                     });
                 });
    }
    for (std::size_t k = 0; k < s.model.current_inputs.size(); ++k) {
        auto const& pair = s.names.terminals.current[k];
        list.add(from_catalogue("lead_traced", ct_name(k),
                                last + "trace the leads at " + pair.s1 + " and " + pair.s2 +
                                    " by hand to their CT, and say which conductor passes it."),
                 [&, k] {
                     return of_words(list.possible(), [k](Possibility const& one) -> std::string {
                         auto const& feed = one.wiring->current[k];
                         return feed.dead ? "they give nothing" : "they come from " + letter(feed.conductor);
                     });
                 });
    }
}
}  // namespace

std::vector<Proposal> proposals_of(TestSituation const& s, std::vector<Possibility> const& possible) {
    List list(s, possible);
    ask_about_generation(list);
    ask_for_volts(list);
    ask_for_amperes(list);
    ask_to_switch(list);
    ask_elsewhere(list);
    ask_about_ratios(list);
    ask_to_trace(list);
    return std::move(list).take();
}

}  // namespace phasewright::diagnosis
