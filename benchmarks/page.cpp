// Writes the page of figures: every service under every mix, with the reliability diagrams beside it.
//   build/measure/benchmark_page docs/reference 10000 2000
// The second number is for the high-leg delta, whose twenty-five shapes of load cost more.
#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <map>
#include <optional>
#include <string>
#include <string_view>
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

struct Cell {
    std::string_view title, words;
    Order order;
    bool informed = false;
    std::string_view picture;
};

std::vector<Cell> cells() {
    return {
        {"The world that the engine believes in", "Mistakes and loads drawn by the engine's own odds: its probabilities should be exact here.",
         {.mix_name = "matched", .mix = Mix::matched}, false, "matched"},
        {"Field", "The same odds, but three quarters of the sites are faulty.", {.mix_name = "field", .mix = Mix::field}, false, ""},
        {"Stress", "Three quarters faulty, one to three mistakes, all kinds and places alike.",
         {.mix_name = "stress", .mix = Mix::stress}, true, "stress"},
        {"Stress, three snapshots", "The load wanders between them by 8 degrees; its habit stays.",
         {.mix_name = "stress", .mix = Mix::stress, .snapshots = 3}, false, ""},
        {"Stress, the kind of load known", "Motors or resistive loads, and told so.",
         {.mix_name = "stress", .mix = Mix::stress, .kind_known = true}, true, ""},
        {"A world that no prior expected",
         "Three sites in ten export, three lead far; up to 35 % distortion, coarse digits, registers read apart, 2 % of all fields corrupt.",
         {.mix_name = "shifted", .mix = Mix::shifted}, false, ""},
    };
}

struct Counted {
    double cases = 0.0, right = 0.0;
};
struct Result {
    Scores scores;
    std::optional<double> ceiling;  // per cent
    std::map<std::string, Counted> by_mistake;
};

std::string kind_of(Mistake const& mistake) {
    auto words = words_of({mistake});
    std::erase_if(words, [](char letter) { return (letter >= '0' && letter <= '9') || letter == '.'; });
    if (auto const place = words.find(" on "); place != std::string::npos) words.resize(place + 3);
    return words;
}

Result result_of(Meter const& meter, Cell const& cell, int cases) {
    auto const possible = mistakes_of(meter, diagnosis::odds_for(readings::Prior::commissioning));
    auto const& order = cell.order;
    Likeness const likeness(meter, order.rotation_told, order.angles);
    diagnosis::Diagnoser diagnoser;
    std::optional<Informed> informed;
    if (cell.informed) informed.emplace(meter, possible, order.mix, order.ratios);
    Result result;
    double known_right = 0.0;
    for (int number = 0; number < cases; ++number) {
        Dice dice(order.seed * 1'000'003 + static_cast<std::uint64_t>(number));
        auto const drawn = drawn_case(dice, meter, order, possible);
        diagnosis::Verdict verdict;
        if (!readings::check(drawn.set)) verdict = diagnoser.diagnose(drawn.set, diagnosis::Asking::verdict_only);
        auto const one = judged(drawn, verdict, meter, likeness);
        result.scores.add(one);
        for (auto const& mistake : drawn.mistakes) {
            auto& counted = result.by_mistake[kind_of(mistake)];
            ++counted.cases;
            counted.right += one.place == std::size_t{0} ? 1.0 : 0.0;
        }
        if (informed && one.answered)
            known_right += is_right(likeness, drawn.landing, informed->answer(drawn.set).wirings) ? 1.0 : 0.0;
    }
    if (informed) result.ceiling = 100.0 * known_right / cases;
    return result;
}

constexpr std::string_view head = R"(# How good the diagnosis is

`benchmark_page` wrote this page; [benchmarks](benchmarks.md) says how to run it, and how its world was made. Cases are drawn from that world,
which shares no code with the engine, diagnosed, and judged by the world's own prediction of the readings. Seeds are fixed.

- **right**: the first class is the planted one (its likeliest wiring reads as the planted one for every load, or lists it). **in three**: it is
  among the first three. **exact**: the first wiring is the planted one to the letter.
- **told odds**: right, if the engine's prior is replaced by the mix's own odds. It is a lower bound of what anybody could reach in that world with
  these readings: what is missing to 100 is what the readings do not tell.
- **silent**: the readings contradict each other, and no class was named. Shares after it are of those answered.
- **set**: the 95 % set holds the planted class; **size**: how many classes it has.
- **Brier**, **ECE**: of the first class's probability; the ECE over ten bins.
- **sure, wrong / due**: of the answers above 0.95, how many were wrong, and how many their probabilities promised.
- **alarms**: a correct wiring was called a mistake. **band**: the 5 to 95 % band holds the true power. **within 2 %**: the corrected power, where
  the planted wiring lets it be recovered at all.
)";

constexpr std::string_view verdict_on_targets = R"(
## What was asked, what is reached, and why not

Asked was: on stressful mixes right first in 95 % from one snapshot, three snapshots 97 %, the kind of load known 99 %; 95 % sets that cover 94 %; an
ECE of 0.015; answers above 0.95 wrong in at most 1.5 %; no more than 0.5 % false alarms; 90 % bands that cover 88 to 92 %.

The shares of right first answers are not reached in this world, and the column *told odds* shows that no prior would reach them: with the
odds of the mix known, the same readings still leave that much undecided. The cause is the load. A site of which nothing is known exports in 6 % of
cases and has any angle at all in 12 % (the mixture of [likelihood](../physics/likelihood.md)), and every wiring has a twin that looks like it at a load
turned by 60, 120 or 180 degrees. Where the kind of load is known the twins go, and the shares rise to what is asked for or near it. Snapshots one
after the other hardly help: the site's habit, not its wander, is what is not known. That is what the next test is for ([tests](tests.md)).

The engine keeps within two points of *told odds* on the high leg and three to four on four wires, three wires and split phase; two elements are five points
below it and two phases of a wye seven, because that mix makes all places alike and the engine's odds do not: it holds one CT on the other conductor, or a tap
on the neutral, for rarer than a CT that is back to front. Answers above 0.95 are wrong more often than promised on these services for the same reason.

On the mix of stress the engine is less sure than it might be (ECE), because its own odds hold three mistakes at once for rarer than that mix makes
them; in the world that it believes in, its probabilities are right. In the last world it is too sure: it believes in 6 % export, and meets 30 %. That is
why "is generation running?" is asked first where nobody told the flow.
)";

std::string without_noise() {
    std::string section = R"(
## Without noise

Every landing that one or two of the mistakes make, one ratio twice or half among them, read exactly, once; a motor-like load, flow told. **named**: the
planted wiring is in a listed class (classes are listed until they sum to 0.999); **first**: in the first of them. **with a power**: that class states a
corrected power; **error**: the largest difference from the true one, as a share of the apparent power.

| service | landings | named | first | with a power | error |
|---|---|---|---|---|---|
)";
    std::string unnamed;
    for (auto const& meter : meters()) {
        auto const found = identities_of(meter);
        section += fmt::format("| {} | {} | {} | {} | {} | {:.0e} |\n", meter.code, found.landings, found.named, found.first, found.recoverable,
                               found.largest_error);
        for (auto const& words : found.unnamed) unnamed += fmt::format("- {}: {}\n", meter.code, words);
    }
    if (!unnamed.empty()) section += "\nNot named, because more usual wirings read alike at this load:\n\n" + unnamed;
    return section;
}

void table_head(std::string& page) {
    page += "| service | cases | right | told odds | in three | exact | silent | set | size | Brier | ECE | sure | wrong / due | alarms | band | within 2 % |\n";
    page += "|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|\n";
}

void table_row(std::string& page, std::string_view service, Result const& result) {
    auto const f = result.scores.figures();
    page += fmt::format("| {} | {:.0f} | {:.1f} | {} | {:.1f} | {:.1f} | {:.1f} | {:.1f} | {:.2f} | {:.3f} | {:.3f} | {:.1f} | {:.1f} / {:.1f} | {:.2f} | {:.1f} | {:.1f} |\n",
                        service, f.cases, f.first, result.ceiling ? fmt::format("{:.1f}", *result.ceiling) : "", f.three, f.exact, f.silent,
                        f.in_set, f.set_size, f.brier, f.ece, f.sure, f.sure_wrong, f.sure_due, f.alarms, f.in_band, f.within_two);
}

void mistake_table(std::string& page, std::string_view service, Result const& result) {
    page += fmt::format("\nRight first answers of {} by what was among the planted mistakes (stress):\n\n| mistake | cases | right |\n|---|---|---|\n", service);
    for (auto const& [words, counted] : result.by_mistake)
        page += fmt::format("| {} | {:.0f} | {:.1f} |\n", words, counted.cases, 100.0 * counted.right / counted.cases);
}
}  // namespace

int main(int argc, char** argv) {
    if (argc != 4 || std::atoi(argv[2]) <= 0 || std::atoi(argv[3]) <= 0) {
        fmt::print(stderr, "benchmark_page FOLDER CASES CASES-OF-THE-HIGH-LEG\n");
        return 2;
    }
    std::string const folder = argv[1];
    std::string page{head};
    for (auto const& cell : cells()) {
        page += fmt::format("\n## {}\n\n{}\n\n", cell.title, cell.words);
        table_head(page);
        std::string below;
        for (auto const& meter : meters()) {
            bool const high_leg = meter.service == plan::Service::high_leg_delta;
            auto const result = result_of(meter, cell, std::atoi(argv[high_leg ? 3 : 2]));
            table_row(page, meter.code, result);
            fmt::print(stderr, "{} {}: {}", cell.order.mix_name, cell.order.snapshots, result.scores.row(std::string(meter.code)));
            if (!cell.picture.empty() && meter.service == plan::Service::four_wire_wye) {
                auto const name = fmt::format("reliability-{}.svg", cell.picture);
                std::ofstream(folder + "/" + name) << result.scores.reliability_svg(fmt::format("{}, {}", meter.code, cell.picture));
                below += fmt::format("\n![Promised and kept, {} {}]({})\n", meter.code, cell.picture, name);
            }
            if (cell.picture == "stress" && meter.service == plan::Service::four_wire_wye) mistake_table(below, meter.code, result);
        }
        page += below;
    }
    page += without_noise();
    page += verdict_on_targets;
    std::ofstream out(folder + "/quality.md");
    out << page;
    return out.good() ? 0 : 1;
}
