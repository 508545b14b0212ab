// The RTU line over a line that takes its time, at one end the least that answers, at the other the program.
#include <doctest/doctest.h>

#include "bus/codec/hex_in_tests.hpp"
#include "bus/port/paced_bridge_in_tests.hpp"
#include "bus/port/responder_in_tests.hpp"
#include "bus/port/rtu_line.hpp"
#include "bus/port/serial_setting.hpp"

using namespace phasewright;
using namespace phasewright::port;
using codec::FaultKind;
using codec::hex;

namespace {
constexpr auto holding = codec::Function::read_holding_registers;
plan::SerialFormat const slow{.bit_rate = 9600, .parity = plan::Parity::even, .stop_bits = 1};
plan::SerialFormat const usual{};

Responder::Units line_of_two() {
    Responder::Units units;
    for (std::uint16_t at = 0; at < 130; ++at) units[1][at] = units[2][at] = at;
    return units;
}

// One program, one line, what happened on it.
struct World {
    explicit World(plan::SerialFormat const& format, bool adapter_echoes = false, int answer_timeout_ms = 2000,
                   int tries = 1)
        : bridge(format, adapter_echoes), meters(bridge.far_device(), line_of_two()) {
        RtuSettings settings;
        settings.format = format;
        settings.answer_timeout_ms = answer_timeout_ms;
        settings.tries = tries;
        settings.listener = [this](Exchange const& exchange) { exchanges.push_back(exchange); };
        line = rtu_line(serial_channel(bridge.near_device(), format), settings);
    }
    PacedBridge bridge;
    Responder meters;
    std::vector<Exchange> exchanges;
    std::unique_ptr<Line> line;
};
}  // namespace

TEST_CASE("a read takes the time of its bytes on the wire, and the silence before the next one") {
    World world(slow);
    REQUIRE(read_registers(*world.line, 1, holding, 0, 1));
    double const begun = world.line->now_s();
    for (int count = 0; count < 4; ++count) REQUIRE(read_registers(*world.line, 1, holding, 0, 60));
    double const took = world.line->now_s() - begun;
    // Question 8 characters, answer 5 + 2 * 60; t3.5 before each but the responder's own time, which can only add.
    double const at_least = 4.0 * ((8.0 + 125.0) * plan::character_s(slow) + plan::silence_between_s(slow));
    CHECK(took >= at_least);
    CHECK(took < 3.0 * at_least + 1.0);
    // The first byte of an answer cannot be there before the question has left.
    for (auto const& exchange : world.exchanges) CHECK(exchange.arrivals.front().after_s > -0.005);
}

TEST_CASE("a gap inside an answer that adapters make too does not break it, a long one does") {
    World world(usual);
    world.bridge.tear_answers(6, 0.010);
    CHECK(read_registers(*world.line, 1, holding, 0, 10));
    world.bridge.tear_answers(6, 0.8);
    auto const torn = read_registers(*world.line, 1, holding, 0, 10);
    REQUIRE_FALSE(torn);
    CHECK(torn.error().kind == FaultKind::garbled);
    world.bridge.tear_answers(0, 0.0);
    // What comes of it later belongs to no question, and is shown.
    CHECK(read_registers(*world.line, 1, holding, 20, 3).value() == codec::Registers{20, 21, 22});
}

TEST_CASE("an adapter that hears itself is learned from the first read, and then a write's echo is no answer") {
    World world(usual, true, 500);
    CHECK(read_registers(*world.line, 1, holding, 5, 2).value() == codec::Registers{5, 6});
    CHECK(world.exchanges.back().echoed == 8);
    CHECK(write_register(*world.line, 1, 5, 77));
    CHECK(world.exchanges.back().echoed == 8);
    CHECK(world.exchanges.back().heard.size() == 16);
    CHECK(world.meters.value(1, 5) == 77);
    CHECK(write_registers(*world.line, 1, 6, {1, 2, 3}));
    CHECK(world.meters.value(1, 8) == 3);
    // Nobody is at address 9: the write comes back, and is not taken for done.
    auto const nobody = write_register(*world.line, 9, 5, 78);
    REQUIRE_FALSE(nobody);
    CHECK(nobody.error().kind == FaultKind::no_answer);
}

TEST_CASE("without an echo a write's answer is an answer") {
    World world(usual);
    CHECK(write_register(*world.line, 1, 5, 77));
    CHECK(world.exchanges.back().echoed == 0);
}

TEST_CASE("a meter that is always late answers the question it was asked, also after a second try") {
    // Answers come half a second late, and the line waits 300 ms: the first try's answer comes during the second.
    World world(usual, false, 300, 2);
    world.bridge.hold_answers(0.5);
    for (std::uint16_t const address : {std::uint16_t{10}, std::uint16_t{20}, std::uint16_t{30}, std::uint16_t{40}}) {
        auto const values = read_registers(*world.line, 1, holding, address, 2);
        CAPTURE(address);
        if (values) CHECK(*values == codec::Registers{address, static_cast<std::uint16_t>(address + 1)});
    }
    // What came late was shown with the next question.
    CHECK(std::ranges::any_of(world.exchanges, [](Exchange const& exchange) { return !exchange.before.empty(); }));
    // The same question asked anew is no second try either.
    World once(usual, false, 300, 1);
    once.bridge.hold_answers(0.5);
    CHECK_FALSE(read_registers(*once.line, 1, holding, 10, 2));
    once.bridge.hold_answers(0.0);
    CHECK(write_register(*once.line, 2, 11, 4711));  // another unit need not wait
    CHECK(read_registers(*once.line, 1, holding, 20, 2).value() == codec::Registers{20, 21});
}

TEST_CASE("a byte of noise at the turn-round does not end the wait for the answer behind it") {
    FarEnd far;
    far.answers_with([&](codec::Bytes const&) {
        far.send(hex("00"));
        std::this_thread::sleep_for(std::chrono::milliseconds(200));
        return codec::to_bytes({.unit = 17, .pdu = hex("03 02 00 2A")});
    });
    RtuSettings settings;
    settings.answer_timeout_ms = 2000;
    settings.tries = 1;
    auto const line = rtu_line(serial_channel(far.device(), usual), settings);
    CHECK(read_registers(*line, 17, holding, 0, 1).value() == codec::Registers{42});
}

TEST_CASE("all tries together end with their budget") {
    World world(usual, false, 200, 100);
    auto const line = [&] {
        RtuSettings settings;
        settings.answer_timeout_ms = 200;
        settings.tries = 100;
        settings.budget_ms = 500;
        return rtu_line(serial_channel(world.bridge.far_device() + "-none", usual), settings);
    }();
    CHECK(read_registers(*line, 1, holding, 0, 1).error().kind == FaultKind::unreachable);
    FarEnd silent;
    RtuSettings settings;
    settings.answer_timeout_ms = 200;
    settings.tries = 100;
    settings.budget_ms = 500;
    int tries = 0;
    settings.listener = [&](Exchange const&) { ++tries; };
    auto const dead = rtu_line(serial_channel(silent.device(), usual), settings);
    double const begun = dead->now_s();
    auto const none = read_registers(*dead, 1, holding, 0, 1);
    CHECK(dead->now_s() - begun < 10.0);  // of twenty
    CHECK(none.error().kind == FaultKind::no_answer);
    CHECK(none.error().detail.find("the 500 ms that all tries together may take are over") != std::string::npos);
    CHECK(tries <= 3);
}

TEST_CASE("the speed of a port is changed while it is open, and both ends go on") {
    FarEnd far;
    auto const channel = serial_channel(far.device(), slow);
    REQUIRE(channel->open());
    CHECK(channel->format() == slow);
    REQUIRE(channel->set_format({.bit_rate = 57600, .parity = plan::Parity::none, .stop_bits = 2}));
    PortTook seen;  // the other side sees what the port was set to
    REQUIRE(read_back(far.master(), seen) == 0);
    CHECK(seen.bit_rate == 57600);
    CHECK(seen.stop_bits == 2);
}
