#include "bus/poller/counter.hpp"

#include <doctest/doctest.h>

using namespace phasewright::poller;

// The rules are derived: a register of n digits counts modulo 10^n, one of 32 bits modulo 2^32; energy is at
// most power times time.
namespace {
constexpr double two_to_32 = 4294967296.0;
CounterHabit const rising{.step = 10.0};
CounterHabit const binary{.wrap = two_to_32, .step = 1.0};
}  // namespace

TEST_CASE("a register that rises by what can have been carried is silent about it") {
    auto const step = judged_step(1000.0, 1200.0, rising, 500.0);
    CHECK(step.gained == 200.0);
    CHECK_FALSE(step.note);
    CHECK(judged_step(1000.0, 1000.0, rising, 500.0).gained == 0.0);
    // Its last digit may turn although nothing but a little was carried.
    CHECK_FALSE(judged_step(1000.0, 1010.0, rising, 0.0).note);
}

TEST_CASE("a register that rises by more than the breaker carries has jumped") {
    auto const step = judged_step(1000.0, 9000.0, rising, 500.0);
    CHECK(step.note == NoteKind::counter_jumped);
    CHECK_FALSE(step.gained);
    CHECK_FALSE(judged_step(1000.0, 9000.0, rising, {}).note);  // nothing is known of the breaker
}

TEST_CASE("a register that runs over its stated end wraps, and what it gained is counted across") {
    auto const step = judged_step(two_to_32 - 100.0, 50.0, binary, 500.0);
    CHECK(step.note == NoteKind::counter_wrapped);
    CHECK(step.gained == doctest::Approx(150.0));
    auto const unlimited = judged_step(two_to_32 - 100.0, 50.0, binary, {});
    CHECK(unlimited.note == NoteKind::counter_wrapped);
    CHECK(unlimited.gained == doctest::Approx(150.0));
}

TEST_CASE("a register that begins again at zero far from its end was reset") {
    auto const step = judged_step(700000.0, 20.0, binary, 500.0);
    CHECK(step.note == NoteKind::counter_reset);
    CHECK(step.gained == 20.0);
    CHECK(judged_step(700000.0, 0.0, rising, {}).note == NoteKind::counter_reset);
}

TEST_CASE("a register that falls and was neither reset nor wrapped has gone back") {
    CHECK(judged_step(700000.0, 699000.0, binary, 500.0).note == NoteKind::counter_went_back);
    CHECK(judged_step(700000.0, 350000.0, rising, {}).note == NoteKind::counter_went_back);
    CHECK(judged_step(700000.0, -5.0, rising, 500.0).note == NoteKind::counter_went_back);
    // It stood above the wrap that its profile states: that wrap is not believed.
    CHECK(judged_step(2.0 * two_to_32, two_to_32 + 1000.0, binary, {}).note == NoteKind::counter_went_back);
}

TEST_CASE("net energy may fall, wrap either way, and not jump") {
    CounterHabit const net{.wrap = 1e6, .may_fall = true, .step = 1.0};
    CHECK(judged_step(500.0, 400.0, net, 200.0).gained == -100.0);
    CHECK_FALSE(judged_step(500.0, 400.0, net, 200.0).note);
    auto const down = judged_step(50.0, 999950.0, net, 200.0);
    CHECK(down.note == NoteKind::counter_wrapped);
    CHECK(down.gained == doctest::Approx(-100.0));
    CHECK(judged_step(999950.0, 50.0, net, 200.0).gained == doctest::Approx(100.0));
    CHECK(judged_step(500.0, 100000.0, net, 200.0).note == NoteKind::counter_jumped);
}
