// A serial line with a simulated clock: what comes back to the head, and when.
#include "bus/twin/serial_bus.hpp"

#include <doctest/doctest.h>

#include "bus/codec/question.hpp"
#include "bus/codec/rtu_answer.hpp"

using namespace phasewright;
using namespace phasewright::twin;
using codec::RtuSearch;

namespace {
constexpr plan::SerialFormat usual{19200, plan::Parity::even, 1};
codec::ReadRegisters const one_register{.address = 5, .count = 1};

// Every device answers a read with its position.
BusDevice device(int position, int unit) {
    return {.name = "d" + std::to_string(position),
            .position = position,
            .unit = unit,
            .manners = {.format = usual},
            .answer = [position](codec::BytesView, double) {
                std::vector<std::uint16_t> const values{static_cast<std::uint16_t>(position)};
                return codec::registers_pdu(one_register, values);
            }};
}
std::vector<BusDevice> ten_devices() {
    std::vector<BusDevice> devices;
    for (int k = 1; k <= 10; ++k) devices.push_back(device(k, k));
    return devices;
}

struct Asked {
    codec::Bytes bytes;
    RtuSearch search;
    double first_s = 0.0, last_s = 0.0;
    [[nodiscard]] bool whole() const { return search.state == RtuSearch::State::whole; }
};
Asked ask(SerialBus& bus, int unit, plan::SerialFormat const& format = usual) {
    codec::RtuFrame const frame{static_cast<std::uint8_t>(unit), *codec::question_pdu(one_register)};
    Asked asked;
    auto const heard = bus.respond(codec::to_bytes(frame), format, 100.0);
    for (auto const& byte : heard) asked.bytes.push_back(byte.value);
    if (!heard.empty()) asked.first_s = heard.front().at_s;
    if (!heard.empty()) asked.last_s = heard.back().at_s;
    asked.search = codec::find_answer(asked.bytes, frame, one_register, false);
    return asked;
}
int answered_by(Asked const& asked) { return codec::u16_at(asked.search.answer->pdu, 2); }
}  // namespace

TEST_CASE(
    "on a healthy line the one that is asked answers, in the time that the specification gives its bytes") {
    SerialBus bus(healthy_pair(100.0, 10), ten_devices(), 1);
    for (int unit = 1; unit <= 10; ++unit) {
        auto const asked = ask(bus, unit);
        REQUIRE(asked.whole());
        CHECK(answered_by(asked) == unit);
        // 8 characters of question, 3.5 of silence, 20 ms of the device, 7 of answer: MODBUS over Serial Line
        // V1.02.
        double const character = 11.0 / 19200.0;
        CHECK(asked.last_s - 100.0 == doctest::Approx((8 + 3.5 + 7) * character + 0.02));
        CHECK(asked.first_s - 100.0 == doctest::Approx((8 + 3.5 + 1) * character + 0.02));
    }
    CHECK(ask(bus, 11).bytes.empty());
}

TEST_CASE("behind a crossing, behind a break, at another speed or parity there is silence") {
    auto crossed = healthy_pair(100.0, 10);
    crossed.crossed_behind = 8;
    SerialBus bus(crossed, ten_devices(), 1);
    CHECK(ask(bus, 8).whole());
    CHECK(ask(bus, 9).bytes.empty());
    CHECK(ask(bus, 10).bytes.empty());
    SerialBus healthy(healthy_pair(100.0, 10), ten_devices(), 1);
    CHECK(ask(healthy, 3, {9600, plan::Parity::even, 1}).bytes.empty());
    CHECK(ask(healthy, 3, {19200, plan::Parity::none, 2}).bytes.empty());
    CHECK(ask(healthy, 3).whole());
}

TEST_CASE("two at one address answer over each other, and no checksum holds") {
    auto devices = ten_devices();
    devices[7].unit = 7;
    SerialBus bus(healthy_pair(100.0, 10), devices, 1);
    for (int again = 0; again < 5; ++again) {
        auto const asked = ask(bus, 7);
        CHECK_FALSE(asked.bytes.empty());
        CHECK_FALSE(asked.whole());
    }
    CHECK(ask(bus, 8).bytes.empty());
    // One that is much slower speaks after the other: two whole answers to one question.
    devices[7].manners.answer_delay_s = 0.1;
    SerialBus apart(healthy_pair(100.0, 10), devices, 1);
    auto const asked = ask(apart, 7);
    CHECK(asked.whole());
    CHECK(asked.bytes.size() == 14);
}

TEST_CASE("devices with bad manners: late, wrong checksum, truncated, busy, by turns") {
    auto devices = ten_devices();
    devices[0].manners.late_every = 2;
    devices[0].manners.late_s = 3.0;
    devices[1].manners.wrong_crc_every = 2;
    devices[2].manners.truncated_every = 2;
    devices[3].manners.busy_every = 2;
    SerialBus bus(healthy_pair(100.0, 10), devices, 1);
    for (int unit = 1; unit <= 4; ++unit) CHECK(ask(bus, unit).whole());
    CHECK(ask(bus, 1).first_s > 103.0);
    CHECK(ask(bus, 2).search.instead->kind == codec::FaultKind::garbled);
    CHECK(ask(bus, 3).bytes.size() == 3);
    CHECK(ask(bus, 4).search.answer->pdu.size() == 2);
    for (int unit = 1; unit <= 4; ++unit) CHECK(ask(bus, unit).whole());
}

TEST_CASE("an adapter that hears itself, and a line that nobody holds while it is idle") {
    auto pair = healthy_pair(100.0, 10);
    pair.adapter_echoes = true;
    SerialBus echoing(pair, ten_devices(), 1);
    CHECK(ask(echoing, 2).search.echoed == 8);
    CHECK(ask(echoing, 2).whole());
    pair.adapter_echoes = false;
    pair.bias.reset();
    SerialBus floating(pair, ten_devices(), 1);
    int strays = 0;
    for (int again = 0; again < 40; ++again) {
        auto const asked = ask(floating, 2);
        CHECK(asked.whole());
        strays += asked.bytes.size() > 7 ? 1 : 0;
    }
    CHECK(strays > 5);
    CHECK(strays < 35);
    pair.bias = Bias{};
    pair.common = false;
    SerialBus uncommon(pair, ten_devices(), 1);
    int lost = 0;
    for (int again = 0; again < 100; ++again) lost += ask(uncommon, 2).whole() ? 0 : 1;
    CHECK(lost > 5);
    CHECK(lost < 40);
}

TEST_CASE("the same seed and the same questions give the same bytes") {
    auto pair = healthy_pair(100.0, 10);
    pair.bias.reset();
    SerialBus one(pair, ten_devices(), 7);
    SerialBus two(pair, ten_devices(), 7);
    for (int again = 0; again < 20; ++again) CHECK(ask(one, 4).bytes == ask(two, 4).bytes);
}
