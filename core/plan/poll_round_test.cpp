#include "core/plan/poll_round.hpp"

#include <doctest/doctest.h>

using namespace phasewright::plan;

namespace {

constexpr double second = 1.0;

PollDevice meter(std::string id, int unit, std::vector<RegisterRun> wanted) {
    return {.id = std::move(id), .unit = unit, .wanted = std::move(wanted)};
}

}  // namespace

TEST_CASE("reading 125 registers takes as long as the serial line specification times it") {
    // MODBUS over Serial Line V1.02, clause 2.5.1: 11 bits a character, t3.5 before the question and before
    // the answer, fixed at 1.750 ms above 19 200 bit/s; 8 + 255 bytes. Milliseconds, worked out from the
    // clause to one decimal.
    struct Row {
        int bit_rate;
        double ms;
    };
    for (auto const& row : {Row{1200, 2475.0}, Row{2400, 1237.5}, Row{4800, 618.8}, Row{9600, 309.4},
                            Row{19200, 154.7}, Row{38400, 78.8}, Row{57600, 53.7}, Row{115200, 28.6}}) {
        CAPTURE(row.bit_rate);
        auto const read = timed({3, 0, 125}, {row.bit_rate, Parity::even, 1}, 0.0);
        CHECK(1e3 * read.total_s() == doctest::Approx(row.ms).epsilon(0.0012));
        CHECK(1e3 * timed({3, 0, 125}, {row.bit_rate, Parity::none, 2}, 0.0).total_s() ==
              doctest::Approx(1e3 * read.total_s()));
    }
    // 8N1 has 10 bits: ten elevenths, where the silences scale too.
    CHECK(timed({3, 0, 125}, {9600, Parity::none, 1}, 0.0).total_s() ==
          doctest::Approx(10.0 / 11.0 * 0.309375));
}

TEST_CASE("an answer delay above t3.5 is added, one below it is not believed") {
    SerialFormat const format{9600, Parity::even, 1};
    double const quick = timed({3, 0, 10}, format, 0.0).total_s();
    CHECK(timed({3, 0, 10}, format, 0.001).total_s() == doctest::Approx(quick));
    // t3.5 at 9600 is 4.0104 ms.
    CHECK(timed({3, 0, 10}, format, 0.050).total_s() ==
          doctest::Approx(quick + 0.050 - 0.0040104).epsilon(1e-6));
}

TEST_CASE("a round is the sum of its reads, and says which part of it characters were on the wire") {
    SerialFormat const format{19200, Parity::even, 1};
    auto const round =
        poll_round(format, {meter("a", 1, {{3, 0, 20}, {3, 400, 20}}), meter("b", 2, {{4, 0, 125}})});
    CHECK(round.reads == 3);
    // (8 + 45 + 7) characters twice and (8 + 255 + 7) once, of 11 / 19200 s.
    CHECK(round.all_answer_s == doctest::Approx((2.0 * 60.0 + 270.0) * 11.0 / 19200.0));
    CHECK(round.wire_s == doctest::Approx((2.0 * 53.0 + 263.0) * 11.0 / 19200.0));
    CHECK(round.expected_s == doctest::Approx(round.all_answer_s));
    CHECK(round.longest_s == doctest::Approx(round.all_answer_s));
    CHECK(round.devices[0].wanted_registers == 40);
    CHECK(round.devices[1].reads.size() == 1);
}

TEST_CASE("a long turn-round makes it worth reading more registers along") {
    SerialFormat const format{9600, Parity::even, 1};
    auto device = meter("a", 1, {{3, 0, 2}, {3, 30, 2}});
    // A question costs 20 characters, the 28 registers between cost 56: two questions.
    CHECK(poll_round(format, {device}).reads == 2);
    // With 50 ms of turn-round it costs 8 + 5 + 3.5 + 43.6 characters: one question.
    device.answer_delay_s = 0.050;
    auto const round = poll_round(format, {device});
    CHECK(round.reads == 1);
    CHECK(round.devices[0].fetched_registers == 32);
    CHECK(round.devices[0].wanted_registers == 4);
}

TEST_CASE("a dead device costs its tries, by its probability and as often as it is asked") {
    SerialFormat const format{9600, Parity::even, 1};
    auto dead = meter("dead", 9, {{3, 0, 10}, {3, 1000, 10}});
    dead.alive = 0.0;
    dead.tries = 3;
    auto const round = poll_round(format, {dead});
    // t3.5 once, then three questions of 8 characters with a second of waiting after each; its second read is
    // not tried.
    double const silent = (3.5 + 3.0 * 8.0) * 11.0 / 9600.0 + 3.0 * second;
    CHECK(round.devices[0].silent_s == doctest::Approx(silent));
    CHECK(round.expected_s == doctest::Approx(silent));
    dead.asked_every = 10;
    CHECK(poll_round(format, {dead}).expected_s == doctest::Approx(silent / 10.0));
    CHECK(poll_round(format, {dead}).longest_s == doctest::Approx(silent));
    dead.asked_every = 1;
    dead.alive = 0.75;
    auto const doubtful = poll_round(format, {dead});
    CHECK(doubtful.expected_s == doctest::Approx(0.75 * doubtful.all_answer_s + 0.25 * silent));
}

TEST_CASE("which speed fits an interval is said for the line and for the next speeds") {
    std::vector<PollDevice> devices;
    for (int unit = 1; unit <= 24; ++unit) devices.push_back(meter("m", unit, {{3, 0, 125}}));
    SerialFormat const own{9600, Parity::even, 1};
    auto const all = speeds(own, devices, 5.0);
    REQUIRE(all.size() == usual_bit_rates.size());
    CHECK_FALSE(all[3].fits);
    CHECK(all[4].fits);
    // 24 * 309.375 ms = 7.425 s; half of it at twice the speed.
    CHECK(all[3].round.expected_s == doctest::Approx(7.425));
    CHECK(all[3].busy_share == doctest::Approx(1.485));
    CHECK(all[3].least_interval_s == 8);
    CHECK(
        words_of(all, own, 5.0) ==
        "at 9600 this line needs 7.4 s a round; 19200: 3.7 s; a 5 s interval fits at 19200 and not at 9600");
    CHECK(words_of(speeds(own, devices, 30.0), own, 30.0) ==
          "at 9600 this line needs 7.4 s a round; 19200: 3.7 s; a 30 s interval fits at 9600, and from 2400 "
          "on");
    CHECK(words_of(speeds(own, devices, 0.5), own, 0.5)
              .ends_with("a 0.5 s interval fits at no speed up to 115200"));
}

TEST_CASE("a line with a speed of its own is listed among the usual ones") {
    SerialFormat const own{31250, Parity::none, 1};
    auto const all = speeds(own, {meter("a", 1, {{3, 0, 10}})}, 1.0);
    REQUIRE(all.size() == usual_bit_rates.size() + 1);
    CHECK(all[5].format == own);
    CHECK(all[5].fits);
}
