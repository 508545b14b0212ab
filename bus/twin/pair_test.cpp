#include "bus/twin/pair.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace phasewright;
using namespace phasewright::twin;

namespace {
// Without the devices' inputs, as textbook figures are given.
Pair bare(std::vector<Terminator> terminators) {
    auto pair = healthy_pair(100.0, 10);
    pair.terminators = std::move(terminators);
    pair.unit_loads = 0.0;
    return pair;
}
}  // namespace

TEST_CASE("across the unpowered pair: 60 ohm with both ends, 120 with one missing, 40 with one too many") {
    // Parallel resistances by Ohm's law; 120 ohm as usual (common practice), 150 ohm as MODBUS over Serial
    // Line V1.02.
    CHECK(dc_ohm(bare({{0}, {10}})) == doctest::Approx(60.0));
    CHECK(dc_ohm(bare({{0}})) == doctest::Approx(120.0));
    CHECK(dc_ohm(bare({{0}, {5}, {10}})) == doctest::Approx(40.0));
    CHECK(dc_ohm(bare({{0, 150.0}, {10, 150.0}})) == doctest::Approx(75.0));
    CHECK(dc_ohm(bare({{0, 120.0, true}, {10, 120.0, true}})) > 1e6);  // capacitors block dc
    // Thirty-two unit loads of 12 kilohm (TIA/EIA-485-A) beside them.
    auto loaded = healthy_pair(100.0, 32);
    CHECK(dc_ohm(loaded) == doctest::Approx(1.0 / (2.0 / 120.0 + 32.0 / 12'000.0)));
    auto const open = bare({});
    CHECK(std::isinf(dc_ohm(open)));
    CHECK(idle_v(open) == doctest::Approx(5.0));  // nothing loads the bias
    CHECK(signal_v(open, 0, 10) == doctest::Approx(3.0));
    auto broken = bare({{0}, {10}});
    broken.broken_behind = 4;
    CHECK(dc_ohm(broken) == doctest::Approx(120.0));
}

TEST_CASE("the idle level that bias gives two terminators of 120 ohm") {
    // MODBUS over Serial Line V1.02 allows 450 to 650 ohm; V = 5 * 60 / (60 + 2 R), worked by hand.
    auto pair = bare({{0}, {10}});
    for (auto const& [ohm, volts] : {std::pair{650.0, 0.221}, {560.0, 0.254}, {450.0, 0.313}}) {
        pair.bias = Bias{.ohm = ohm};
        CHECK(idle_v(pair) == doctest::Approx(volts).epsilon(0.003));
    }
    pair.bias = Bias{.ohm = 560.0};
    pair.terminators.push_back({5});
    CHECK(idle_v(pair) < 0.2);  // three terminators press it below the threshold of TIA/EIA-485-A
    CHECK(stray_byte(pair) > 0.0);
    pair.bias.reset();
    CHECK(idle_v(pair) == 0.0);
    pair.bias = Bias{.at = 10};
    pair.crossed_behind = 4;
    CHECK(idle_v(pair) < 0.0);
}

TEST_CASE("levels behind a crossing are turned, behind a break there are none") {
    auto pair = healthy_pair(100.0, 10);
    CHECK(passage(pair, 10) == Passage::clean);
    pair.crossed_behind = 8;
    CHECK(passage(pair, 8) == Passage::clean);
    CHECK(passage(pair, 9) == Passage::inverted);
    pair.broken_behind = 9;
    CHECK(passage(pair, 10) == Passage::nothing);
}

TEST_CASE(
    "behind a break of one conductor half of the level is left, until something there ties the two "
    "together") {
    // One leg of a balanced driver swings by half of the differential, against common (Kirchhoff; the far
    // part of the broken leg rests at common). A terminator behind the break joins the two legs: both move
    // alike, nothing is between.
    auto pair = bare({{0}});
    pair.broken_behind = 4;
    CHECK(passage(pair, 7) == Passage::nothing);  // both conductors
    double const whole_v = signal_v(bare({{0}}), 0, 7);
    pair.one_conductor_broken = true;
    CHECK(passage(pair, 7) == Passage::clean);
    CHECK(signal_v(pair, 0, 7) == doctest::Approx(whole_v / 2.0));
    CHECK(signal_v(pair, 0, 4) > 1.9 * signal_v(pair, 0, 5));
    CHECK(dc_ohm(pair) == doctest::Approx(120.0));
    pair.common = false;
    CHECK(passage(pair, 7) == Passage::nothing);
    pair.common = true;
    pair.terminators.push_back({10, 120.0, true});
    CHECK(passage(pair, 7) == Passage::nothing);
    CHECK(passage(pair, 4) == Passage::clean);
}

TEST_CASE("a missing terminator is felt on a long fast line and not on a slow one") {
    // 1000 m, round trip 10.1 us at 0.66 c: three of them are 0.6 of a bit at 19 200 bit/s and 3.5 bits at
    // 115 200.
    auto pair = healthy_pair(1000.0, 10);
    CHECK(bit_error(pair, {115200}, 10) < 1e-3);
    pair.terminators.pop_back();
    CHECK(bit_error(pair, {9600}, 10) < 1e-3);
    CHECK(bit_error(pair, {115200}, 10) > 0.4);
    pair.length_m = 50.0;
    CHECK(bit_error(pair, {19200}, 10) < 1e-3);
}

TEST_CASE("a driver that is loaded with 54 ohm gives at least 1.5 V, and copper takes its share") {
    // TIA/EIA-485-A, 1.5 V into 54 ohm.
    auto pair = bare({{0, 54.0}});
    CHECK(signal_v(pair, 0, 0) == doctest::Approx(1.5));
    CHECK(signal_v(pair, 0, 10) < 1.5);
}
