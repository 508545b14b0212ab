// The walk through formats and units with a simulated clock: no line, no waiting.
#include <doctest/doctest.h>

#include <algorithm>
#include <functional>

#include "bus/finder/search_plan.hpp"

namespace phasewright::finder {

namespace {
using plan::Parity;
using plan::SerialFormat;

struct Walk {
    std::vector<Probe> probes;
    double took_s = 0.0;
};

// Asks until the plan ends; silence takes as long as the wait and the question's characters.
Walk walk(SearchPlan& plan, std::function<ProbeOutcome(Probe const&)> const& line) {
    Walk walked;
    while (auto const probe = plan.next()) {
        walked.probes.push_back(*probe);
        auto outcome = line(*probe);
        if (outcome.took_s == 0.0)
            outcome.took_s = outcome.came == Came::nothing
                                 ? 8 * plan::character_s(probe->format) + plan::silence_between_s(probe->format) +
                                       1e-3 * probe->wait_ms
                                 : 0.03;
        walked.took_s += outcome.took_s;
        plan.heard(outcome);
        REQUIRE(walked.probes.size() < 20000);
    }
    return walked;
}

bool asked_in(Walk const& walked, SerialFormat const& format, int unit) {
    return std::any_of(walked.probes.begin(), walked.probes.end(),
                       [&](Probe const& probe) { return probe.format == format && probe.unit == unit; });
}

constexpr SerialFormat usual{19200, Parity::even, 1};
constexpr SerialFormat slower{9600, Parity::even, 1};
}  // namespace

TEST_CASE("the specification's default format is asked first, and the one that it demands next") {
    // MODBUS over Serial Line V1.02, clause 2.5.1 and 2.2: 19200 bit/s, even parity by default; 9600 must be offered.
    auto const formats = usual_formats();
    CHECK(formats[0] == usual);
    CHECK(formats[1] == slower);
}

TEST_CASE("planned units are asked before any other, in their order, and 1 to 3 in every format before the rest") {
    SearchPlan plan({.planned = {9, 4, 9}});
    auto const walked = walk(plan, [](Probe const&) { return ProbeOutcome{}; });
    CHECK(walked.probes[0].unit == 9);
    CHECK(walked.probes[1].unit == 4);
    CHECK(walked.probes[2].unit == 1);
    CHECK(walked.probes[0].format == usual);
    CHECK(walked.probes[5].unit == 9);
    CHECK(walked.probes[5].format == slower);
    auto const formats = usual_formats().size();
    CHECK(walked.probes[5 * formats].unit == 5);
    // every unit in every format once, and the two planned ones once more with a long wait
    CHECK(walked.probes.size() == 247 * formats + 2);
    CHECK(walked.probes.back().patient);
    CHECK(plan.hits().empty());
}

TEST_CASE("once a device has answered only its format is asked, for all units") {
    SearchPlan plan({});
    auto const walked = walk(plan, [](Probe const& probe) {
        bool const there = probe.format == slower && (probe.unit == 2 || probe.unit == 200);
        return ProbeOutcome{.came = there ? Came::answer : Came::nothing};
    });
    REQUIRE(plan.hits().size() == 2);
    CHECK(plan.hits()[1].unit == 200);
    CHECK(walked.probes.size() == 3 + 247);  // 19200 8E1: 1 to 3; then 9600 8E1
}

TEST_CASE("all formats are asked when that is wanted") {
    SearchPlan plan({.all_formats = true});
    auto const walked = walk(plan, [](Probe const& probe) {
        bool const first = probe.format == usual && probe.unit == 1;
        bool const other = probe.format == SerialFormat{4800, Parity::even, 1} && probe.unit == 77;
        return ProbeOutcome{.came = first || other ? Came::answer : Came::nothing};
    });
    CHECK(plan.hits().size() == 2);
    CHECK(walked.probes.size() == 247 * usual_formats().size());
}

TEST_CASE("bytes that make no frame are asked for again slowly, then in the other formats, those of the same speed first") {
    SearchPlan plan({});
    SerialFormat const odd{19200, Parity::odd, 1};
    auto const walked = walk(plan, [&](Probe const& probe) {
        if (probe.format == usual && probe.unit == 1) return ProbeOutcome{.came = Came::answer};
        if (probe.format == usual && probe.unit == 2) return ProbeOutcome{.came = Came::garbage};
        return ProbeOutcome{.came = probe.format == odd && probe.unit == 2 ? Came::answer : Came::nothing};
    });
    CHECK(walked.probes[2].unit == 2);
    CHECK(walked.probes[2].patient);
    CHECK(walked.probes[3].format == SerialFormat{19200, Parity::none, 1});
    CHECK(walked.probes[5].format == odd);
    REQUIRE(plan.hits().size() == 2);
    CHECK(plan.hits()[1].format == odd);
    REQUIRE(plan.doubtful().size() == 1);
    CHECK(plan.doubtful()[0].unit == 2);
    // A device found by a hint does not open its whole format.
    CHECK_FALSE(asked_in(walked, slower, 9));
}

TEST_CASE("one disturbance is not a hint") {
    SearchPlan plan({});
    int times = 0;
    auto const walked = walk(plan, [&](Probe const& probe) {
        if (probe.unit != 5 || probe.format != usual) return ProbeOutcome{.came = probe.unit == 1 ? Came::answer : Came::nothing};
        return ProbeOutcome{.came = times++ == 0 ? Came::garbage : Came::answer};
    });
    CHECK(times == 2);
    CHECK(plan.doubtful().empty());
    CHECK(plan.hits().size() == 2);
    CHECK(walked.probes.size() == 248);
}

TEST_CASE("a late answer of another unit proves that one, and the covered one is asked again") {
    SearchPlan plan({});
    auto const walked = walk(plan, [&](Probe const& probe) {
        if (probe.format == usual && probe.unit == 3 && !probe.patient)
            return ProbeOutcome{.came = Came::other_unit, .answering = 2};
        return ProbeOutcome{.came = probe.format == usual && probe.unit == 3 ? Came::answer : Came::nothing};
    });
    REQUIRE(plan.hits().size() == 2);
    CHECK(plan.hits()[0].unit == 2);
    CHECK(plan.hits()[1].unit == 3);
    CHECK(walked.probes.size() == 248);
}

TEST_CASE("a planned unit that is missing is asked again with a long wait, then in the other formats") {
    SearchPlan plan({.planned = {1, 2}});
    auto const walked = walk(plan, [&](Probe const& probe) {
        bool const there = (probe.unit == 1 && probe.format == usual) ||
                           (probe.unit == 2 && probe.format == SerialFormat{9600, Parity::none, 1});
        return ProbeOutcome{.came = there ? Came::answer : Came::nothing};
    });
    CHECK(walked.probes[247].unit == 2);
    CHECK(walked.probes[247].patient);
    CHECK(plan.hits().size() == 2);
    CHECK(walked.probes.size() == 247 + 1 + 2);  // 9600 8E1, then 9600 8N1 answers and the rest is left out
}

TEST_CASE("the time left is an upper bound, and exact where nothing answers") {
    SearchPlan plan({.planned = {12}});
    double const told_s = plan.time_left_s();
    auto const walked = walk(plan, [](Probe const&) { return ProbeOutcome{}; });
    CHECK(walked.took_s == doctest::Approx(told_s).epsilon(1e-9));
    CHECK(plan.time_left_s() == 0.0);

    SearchPlan found({.planned = {12}});
    double last_s = found.time_left_s();
    found.heard({.came = Came::answer, .took_s = 0.03});
    CHECK(found.time_left_s() < 0.1 * last_s);
}

TEST_CASE("the time left learns what silence really takes") {
    SearchPlan plan({.formats = {usual}});
    double const told_s = plan.time_left_s();
    for (int i = 0; i < 10; ++i) plan.heard({.came = Came::nothing, .took_s = 0.5});
    CHECK(plan.time_left_s() > 2.5 * told_s);
    CHECK(plan.time_left_s() == doctest::Approx(237 * 0.5).epsilon(0.01));
}

TEST_CASE("a probe waits for the device and for the characters of the line's speed") {
    // MODBUS over Serial Line V1.02, clause 2.5.1: 11 bits a character: 7 x 11 / 1200 bit/s = 64.2 ms.
    CHECK(probe_wait_ms({1200, Parity::even, 1}, 150) == 150 + 65);
    CHECK(probe_wait_ms({115200, Parity::even, 1}, 150) == 150 + 1);
}

TEST_CASE("without formats there are units only, and the range that was given") {
    SearchPlan plan({.formats = {SerialFormat{}}, .planned = {40}, .first = 2, .last = 6, .timed = false});
    auto const walked = walk(plan, [](Probe const&) { return ProbeOutcome{.came = Came::nothing, .took_s = 1.0}; });
    std::vector<int> units;
    for (auto const& probe : walked.probes) units.push_back(probe.unit);
    CHECK(units == std::vector<int>{40, 2, 3, 4, 5, 6, 40});
}

}  // namespace phasewright::finder
