// How often is the diagnosis right, and is it as sure as it may be? Cases are drawn from a world that shares
// no code with the engine (world.hpp), diagnosed, and judged by that world's own prediction of the readings
// (alike.hpp). docs/reference/benchmarks.md says what each column means and what a run gave.
#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstdio>
#include <cstdint>
#include <fstream>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <fmt/core.h>

#include "benchmarks/alike.hpp"
#include "benchmarks/informed.hpp"
#include "benchmarks/mistakes.hpp"
#include "benchmarks/scores.hpp"
#include "core/diagnosis/diagnose.hpp"
#include "core/readings/check.hpp"

namespace {
using namespace phasewright;
using namespace phasewright::benchmarks;

constexpr std::string_view usage =
    "benchmark_quality SERVICE|all [--mix field|matched|stress|shifted] [--cases N] [--snapshots K]\n"
    "  [--load-kind unknown|known] [--rotation told|untold] [--angles yes|no] [--ratios] [--seed S]\n"
    "  [--failures N] [--svg FILE] [--informed]\n"
    "  --ratios: a stressful mix may double or halve one ratio too; --failures: the N commonest confusions;\n"
    "  --informed: also what the engine would say if it knew the odds of the mix\n";

struct Order {
    std::string service;
    std::string mix_name = "field";
    Mix mix = Mix::field;
    int cases = 500, snapshots = 1, failures = 0;
    std::uint64_t seed = 1;
    bool kind_known = false, rotation_told = true, angles = true, ratios = false, informed = false;
    std::string svg;
};

template <class Number>
bool read_number(std::string_view text, Number& number) {
    auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
    return error == std::errc{} && end == text.data() + text.size() && number > 0;
}

// "yes" or "no" in the option's own words.
bool read_choice(std::string_view text, std::string_view yes, std::string_view no, bool& choice) {
    choice = text == yes;
    return text == yes || text == no;
}

bool set_option(Order& order, std::string_view option, std::string const& value) {
    if (option == "--cases") return read_number(value, order.cases);
    if (option == "--snapshots") return read_number(value, order.snapshots);
    if (option == "--failures") return read_number(value, order.failures);
    if (option == "--seed") return read_number(value, order.seed);
    if (option == "--load-kind") return read_choice(value, "known", "unknown", order.kind_known);
    if (option == "--rotation") return read_choice(value, "told", "untold", order.rotation_told);
    if (option == "--angles") return read_choice(value, "yes", "no", order.angles);
    if (option == "--svg") {
        order.svg = value;
        return !value.empty();
    }
    if (option != "--mix") return false;
    auto const mix = mix_of(value);
    order.mix_name = value;
    order.mix = mix.value_or(Mix::field);
    return mix.has_value();
}

std::optional<Order> order_of(std::vector<std::string> const& words) {
    if (words.empty()) return std::nullopt;
    Order order;
    order.service = words[0];
    if (order.service != "all" && meter_of(order.service) == nullptr) return std::nullopt;
    for (std::size_t w = 1; w < words.size(); ++w) {
        if (words[w] == "--ratios" || words[w] == "--informed") {
            (words[w] == "--ratios" ? order.ratios : order.informed) = true;
        } else if (w + 1 == words.size() || !set_option(order, words[w], words[w + 1])) {
            fmt::print(stderr, "not understood: {}\n", words[w]);
            return std::nullopt;
        } else {
            ++w;
        }
    }
    return order;
}

struct Drawn {
    std::vector<Mistake> mistakes;
    Landing landing;
    SiteHabit habit;
    double true_w = 0.0;
    readings::ReadingSet set;
};

Belief drawn_belief(Dice& dice, Order const& order) {
    if (order.kind_known) return dice.happens(0.5) ? Belief::motor : Belief::resistive;
    if (order.mix != Mix::shifted) return Belief::unknown;
    // Three sites in ten export, three lead far.
    double const u = dice.share();
    return u < 0.3 ? Belief::exporting : u < 0.6 ? Belief::leading : Belief::unknown;
}

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

// A class is right when its likeliest wiring reads like the planted one, or when it lists the planted one.
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

// How often which wiring was taken for which; places are left out, so that the same slip on another phase
// adds up.
struct Confusions {
    std::map<std::string, int> pairs, causes;
};

std::string without_places(std::string words) {
    auto const place = [](char letter) { return letter >= '1' && letter <= '3'; };
    for (std::size_t k = 1; k < words.size(); ++k)
        if (place(words[k]) && std::string_view(" LV").find(words[k - 1]) != std::string_view::npos)
            words[k] = '#';
    return words;
}

std::string_view words_of_load(double lag_deg) {
    double const lag = std::remainder(lag_deg, 360.0);
    if (std::abs(lag) > 120.0) return "export";
    return lag < -20.0 ? "leading" : lag > 50.0 ? "lagging far" : "usual";
}

void note(Confusions& confusions, Drawn const& drawn, diagnosis::Verdict const& verdict, Judged const& result,
          Likeness const& likeness) {
    if (!result.answered) {
        ++confusions.causes["no answer"];
        ++confusions.pairs[words_of(drawn.mistakes) + " -> no answer"];
        return;
    }
    auto const& named = verdict.classes[0];
    auto const cause = likeness.cause_of_confusion(drawn.landing, landing_of(named.wirings[0].wiring));
    ++confusions.causes[cause];
    ++confusions.pairs[fmt::format("{} -> {} [load {}; {}{}{}]", without_places(words_of(drawn.mistakes)),
                                   without_places(named.in_words), words_of_load(drawn.habit.lag_deg), cause,
                                   named.probability > 0.95 ? "; was sure" : "",
                                   result.place ? "" : "; right one not listed")];
}

void print_most(std::map<std::string, int> const& counted, int most) {
    std::vector<std::pair<int, std::string>> sorted;
    for (auto const& [words, count] : counted) sorted.emplace_back(-count, words);
    std::ranges::sort(sorted);
    for (std::size_t c = 0; c < sorted.size() && c < static_cast<std::size_t>(most); ++c)
        fmt::print("  {:4} {}\n", -sorted[c].first, sorted[c].second);
}

void run(Meter const& meter, Order const& order) {
    auto const possible = mistakes_of(meter, diagnosis::odds_for(readings::Prior::commissioning));
    Likeness const likeness(meter, order.rotation_told, order.angles);
    diagnosis::Diagnoser diagnoser;
    std::optional<Informed> informed;
    if (order.informed) informed.emplace(meter, possible, order.mix, order.ratios);
    double informed_right = 0.0;
    double informed_trust = 0.0;
    Scores scores;
    Confusions confusions;
    for (int number = 0; number < order.cases; ++number) {
        // Every case has dice of its own, so that a case can be drawn again by its number.
        Dice dice(order.seed * 1'000'003 + static_cast<std::uint64_t>(number));
        auto const drawn = drawn_case(dice, meter, order, possible);
        diagnosis::Verdict verdict;
        if (!readings::check(drawn.set)) verdict = diagnoser.diagnose(drawn.set);
        auto const result = judged(drawn, verdict, meter, likeness);
        scores.add(result);
        if (informed && result.answered) {
            auto const answer = informed->answer(drawn.set);
            informed_right += is_right(likeness, drawn.landing, answer.wirings) ? 1.0 : 0.0;
            informed_trust += answer.probability;
        }
        if (order.failures > 0 && result.place != std::size_t{0})
            note(confusions, drawn, verdict, result, likeness);
    }
    fmt::print("{}", scores.row(std::string(meter.code)));
    if (informed)
        fmt::print(
            "  knowing the odds of the mix: first {:.1f}, trust {:.1f}; {:.2f} % of cases are no "
            "hypothesis\n",
            100.0 * informed_right / order.cases, 100.0 * informed_trust / order.cases,
            100.0 * informed->unheard_of());
    if (!order.svg.empty())
        std::ofstream(order.svg) << scores.reliability_svg(fmt::format("{}, {}", meter.code, order.mix_name));
    print_most(confusions.causes, order.failures);
    print_most(confusions.pairs, order.failures);
    std::fflush(stdout);
}
}  // namespace

int main(int argc, char** argv) {
    auto const order = order_of({argv + 1, argv + argc});
    if (!order) {
        fmt::print(stderr, "{}", usage);
        return 2;
    }
    fmt::print("{} mix, {} snapshot(s), load kind {}, rotation {}, angles {}{}, seed {}\n", order->mix_name,
               order->snapshots, order->kind_known ? "known" : "unknown",
               order->rotation_told ? "told" : "untold", order->angles ? "yes" : "no",
               order->ratios ? ", ratios too" : "", order->seed);
    fmt::print("{}", Scores::head());
    for (auto const& meter : meters())
        if (order->service == "all" || order->service == meter.code) run(meter, *order);
    return 0;
}
