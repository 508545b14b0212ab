#include "bus/poller/schedule.hpp"

#include <doctest/doctest.h>

#include <map>

using namespace phasewright::poller;

namespace {

// A line under a clock that the test moves: each question takes so long, and nothing else takes time.
struct SimulatedLine {
    double now_s = 1000.0;
    Schedule schedule;
    std::map<std::size_t, std::vector<double>> asked;
    std::vector<bool> dead;

    SimulatedLine(std::size_t meters, ScheduleSettings settings)
        : schedule(meters, settings, 1000.0), dead(meters) {}

    int run_until(double end_s, double takes_s) {
        int missed = 0;
        while (true) {
            auto const turn = schedule.next();
            now_s = std::max(now_s, turn.due_s);
            if (now_s >= end_s) return missed;
            asked[turn.meter].push_back(now_s - 1000.0);
            now_s += takes_s;
            missed +=
                dead[turn.meter] ? schedule.failed(turn.meter, now_s) : schedule.answered(turn.meter, now_s);
        }
    }
};

}  // namespace

TEST_CASE("every meter is asked once an interval, in order, on its own grid") {
    SimulatedLine line(3, {.interval_s = 5.0});
    CHECK(line.run_until(1020.0, 0.5) == 0);
    CHECK(line.asked[0] == std::vector<double>{0.0, 5.0, 10.0, 15.0});
    CHECK(line.asked[1] == std::vector<double>{0.5, 5.5, 10.5, 15.5});
    CHECK(line.asked[2] == std::vector<double>{1.0, 6.0, 11.0, 16.0});
}

TEST_CASE(
    "a line that is too slow asks all its meters equally often, and says that moments were passed over") {
    SimulatedLine line(4, {.interval_s = 2.0});
    CHECK(line.run_until(1100.0, 1.0) > 0);  // a round takes 4 s
    for (std::size_t meter = 0; meter < 4; ++meter) {
        CHECK(line.asked[meter].size() >= 24);
        CHECK(line.asked[meter].size() <= 26);
    }
}

TEST_CASE(
    "a dead meter is asked less often, never more than the longest wait apart, and soon again once it "
    "answers") {
    SimulatedLine line(2, {.interval_s = 5.0, .failures_until_rare = 3, .longest_wait_s = 40.0});
    line.dead[1] = true;
    line.run_until(1300.0, 0.25);
    // Two usual waits, then twice as long each time up to 40 s.
    CHECK(line.asked[1] == std::vector<double>{0.25, 5.25, 10.25, 20.25, 40.25, 80.25, 120.25, 160.25, 200.25,
                                               240.25, 280.25});
    CHECK(line.asked[0].size() == 60);
    CHECK(line.schedule.failures_in_a_row(1) == 11);
    line.dead[1] = false;
    line.asked.clear();
    line.run_until(1340.0, 0.25);
    CHECK(line.asked[1] == std::vector<double>{320.25, 325.25, 330.25, 335.25});
}

TEST_CASE(
    "after a pause every meter is asked once for what was missed, and the pause counts as nobody's fault") {
    SimulatedLine line(2, {.interval_s = 5.0});
    CHECK(line.run_until(1010.0, 0.5) == 0);
    line.now_s = 1102.0;  // the line was away
    line.schedule.resumed(line.now_s);
    line.asked.clear();
    CHECK(line.run_until(1116.0, 0.5) == 0);
    CHECK(line.asked[0] == std::vector<double>{102.0, 105.0, 110.0, 115.0});
    CHECK(line.asked[1] == std::vector<double>{102.5, 105.5, 110.5, 115.5});
}

TEST_CASE("the wait for a lost line doubles up to its limit and begins anew after success") {
    Backoff backoff(0.5, 3.0);
    CHECK(backoff.next_s() == 0.5);
    CHECK(backoff.next_s() == 1.0);
    CHECK(backoff.next_s() == 2.0);
    CHECK(backoff.next_s() == 3.0);
    CHECK(backoff.next_s() == 3.0);
    backoff.reset();
    CHECK(backoff.next_s() == 0.5);
}
