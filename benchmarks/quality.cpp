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

#include "benchmarks/identities.hpp"
#include "benchmarks/informed.hpp"
#include "benchmarks/trial.hpp"
#include "core/diagnosis/diagnose.hpp"
#include "core/readings/check.hpp"

namespace {
using namespace phasewright;
using namespace phasewright::benchmarks;

constexpr std::string_view usage =
    "benchmark_quality SERVICE|all [--mix field|matched|stress|shifted] [--cases N] [--snapshots K]\n"
    "  [--load-kind unknown|known] [--rotation told|untold] [--angles yes|no] [--ratios] [--seed S]\n"
    "  [--failures N] [--svg FILE] [--informed]\n"
    "benchmark_quality SERVICE|all --identities\n"
    "  --ratios: a stressful mix may double or halve one ratio too; --failures: the N commonest confusions;\n"
    "  --informed: also what the engine would say if it knew the odds of the mix\n";

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
        if (!readings::check(drawn.set)) verdict = diagnoser.diagnose(drawn.set, diagnosis::Asking::verdict_only);
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

int print_identities(std::string_view service) {
    for (auto const& meter : meters()) {
        if (service != "all" && service != meter.code) continue;
        auto const found = identities_of(meter);
        fmt::print("{:10} {:5} landings, {} named, {} first, {} with a power, largest error {:.1e}\n", meter.code,
                   found.landings, found.named, found.first, found.recoverable, found.largest_error);
        for (auto const& words : found.unnamed) fmt::print("  not named: {}\n", words);
    }
    return 0;
}
}  // namespace

int main(int argc, char** argv) {
    if (argc == 3 && std::string_view(argv[2]) == "--identities") return print_identities(argv[1]);
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
