// Conversations on a serial line as hex: what was asked, what came back, and what is made of it.
#include "bus/codec/rtu_answer.hpp"

#include <doctest/doctest.h>

#include "bus/codec/hex_in_tests.hpp"

using namespace phasewright::codec;

namespace {
RtuFrame framed(std::uint8_t unit, std::string_view pdu) { return {.unit = unit, .pdu = hex(pdu)}; }

// Registers 108 to 110 of unit 17, with their answer: MODBUS Application Protocol V1.1b3, clause 6.3.
ReadRegisters const three_registers{.address = 0x6B, .count = 3};
RtuFrame const asked = framed(0x11, "03 00 6B 00 03");
Bytes const answer = to_bytes(framed(0x11, "03 06 02 2B 00 00 00 64"));

Bytes joined(std::initializer_list<Bytes> parts) {
    Bytes all;
    for (auto const& part : parts) put_bytes(all, part);
    return all;
}
RtuSearch found(Bytes const& heard, bool take_off_echo = false) {
    return find_answer(heard, asked, three_registers, take_off_echo);
}
}  // namespace

TEST_CASE("an answer's head announces its length") {
    CHECK_FALSE(announced_bytes(hex("11")));
    CHECK_FALSE(announced_bytes(hex("11 03")));
    CHECK(announced_bytes(hex("11 03 06")) == 11);
    CHECK(announced_bytes(hex("11 04 FA")) == 255);
    CHECK_FALSE(announced_bytes(hex("11 03 FF")));  // longer than any frame
    CHECK(announced_bytes(hex("11 06")) == 8);
    CHECK(announced_bytes(hex("11 10")) == 8);
    CHECK(announced_bytes(hex("11 83")) == 5);
    CHECK_FALSE(announced_bytes(hex("11 2B 0E 01 81 00 00")));
    CHECK(announced_bytes(hex("11 2B 0E 01 81 00 00 00")) == 10);
    CHECK_FALSE(announced_bytes(hex("11 2B 0E 01 81 00 00 01 00")));
    CHECK(announced_bytes(hex("11 2B 0E 01 81 00 00 01 00 03")) == 15);
    CHECK_FALSE(announced_bytes(hex("11 2B 0E 01 81 00 00 02 00 FF 41")));
    CHECK_FALSE(announced_bytes(hex("11 41 00 00")));
}

TEST_CASE("an answer that comes byte by byte is whole with its last byte and not before") {
    for (std::size_t bytes = 0; bytes < answer.size(); ++bytes) {
        auto const search = found(Bytes(answer.begin(), answer.begin() + static_cast<std::ptrdiff_t>(bytes)));
        CHECK(search.state == RtuSearch::State::waiting);
        CHECK(search.instead.has_value() == (bytes > 0));
    }
    auto const search = found(answer);
    REQUIRE(search.state == RtuSearch::State::whole);
    CHECK(to_bytes(*search.answer) == answer);
    CHECK(search.echoed == 0);
}

TEST_CASE("noise of the line's turn-round before the answer is passed over") {
    for (auto const* noise : {"00", "FF", "00 FF 00", "FE 11"})
        CHECK(found(joined({hex(noise), answer})).state == RtuSearch::State::whole);
}

TEST_CASE("an adapter that hears itself gives the question back before the answer") {
    auto const sent = to_bytes(asked);
    auto const echo_alone = found(sent);
    CHECK(echo_alone.echoed == sent.size());
    CHECK(echo_alone.state == RtuSearch::State::waiting);
    CHECK_FALSE(echo_alone.instead);
    auto const both = found(joined({sent, answer}));
    CHECK(both.state == RtuSearch::State::whole);
    CHECK(both.echoed == sent.size());

    // A write is answered by its own bytes: only who knows of the echo can tell the two apart.
    WriteRegister const write{.address = 1, .value = 3};
    auto const write_asked = framed(0x11, "06 00 01 00 03");
    auto const bytes = to_bytes(write_asked);
    CHECK(find_answer(bytes, write_asked, write, false).state == RtuSearch::State::whole);
    CHECK(find_answer(bytes, write_asked, write, true).state == RtuSearch::State::waiting);
    CHECK(find_answer(joined({bytes, bytes}), write_asked, write, true).state == RtuSearch::State::whole);
}

TEST_CASE("another's answer, or one to an earlier question, is not taken for this one") {
    auto const other_unit = to_bytes(framed(0x12, "03 06 02 2B 00 00 00 64"));
    auto const alone = found(other_unit);
    CHECK(alone.state == RtuSearch::State::waiting);
    REQUIRE(alone.instead);
    CHECK(alone.instead->kind == FaultKind::wrong_unit);
    CHECK(found(joined({other_unit, answer})).state == RtuSearch::State::whole);

    auto const earlier = to_bytes(framed(0x11, "03 02 00 00"));  // to a question for one register
    REQUIRE(found(earlier).instead);
    CHECK(found(earlier).instead->kind == FaultKind::malformed);
    CHECK(found(joined({earlier, answer})).state == RtuSearch::State::whole);
}

TEST_CASE("a refusal is an answer") {
    auto const search = found(to_bytes(framed(0x11, "83 02")));
    REQUIRE(search.state == RtuSearch::State::whole);
    CHECK(search.answer->pdu == hex("83 02"));
    CHECK(found(to_bytes(framed(0x11, "84 02"))).state == RtuSearch::State::waiting);  // of another function
}

TEST_CASE("broken answers stay broken, whatever comes after them") {
    auto broken = answer;
    broken[5] ^= std::byte{1};
    auto const search = found(broken);
    CHECK(search.state == RtuSearch::State::waiting);
    REQUIRE(search.instead);
    CHECK(search.instead->kind == FaultKind::garbled);
    CHECK(found(Bytes(2 * max_rtu_frame_bytes, std::byte{0x55})).state == RtuSearch::State::hopeless);
    // Two devices at one address, bit over bit: no checksum holds.
    Bytes collided;
    auto const other = to_bytes(framed(0x11, "03 06 01 10 22 00 10 64"));
    for (std::size_t k = 0; k < answer.size(); ++k) collided.push_back(answer[k] & other[k]);
    CHECK(found(collided).instead->kind == FaultKind::garbled);
}

TEST_CASE("the bytes that nothing explains are counted: noise and spoiled frames, not echoes and not others' frames") {
    auto const sent = to_bytes(asked);
    CHECK(found({}).unexplained == 0);
    CHECK(found(hex("00")).unexplained == 1);
    for (std::size_t bytes = 0; bytes <= sent.size(); ++bytes)  // an echo coming in
        CHECK(found(Bytes(sent.begin(), sent.begin() + static_cast<std::ptrdiff_t>(bytes))).unexplained == 0);
    auto const other_unit = to_bytes(framed(0x12, "03 06 02 2B 00 00 00 64"));
    CHECK(found(other_unit).unexplained == 0);
    CHECK(found(joined({hex("FF 00"), other_unit})).unexplained == 2);
    CHECK(found(joined({sent, hex("00")}), true).unexplained == 1);
    auto truncated = answer;
    truncated.resize(7);
    CHECK(found(truncated).unexplained == 7);
}

TEST_CASE("the answer to a single write is no echo unless it comes twice") {
    WriteRegister const write{.address = 1, .value = 3};
    auto const write_asked = framed(0x11, "06 00 01 00 03");
    auto const bytes = to_bytes(write_asked);
    CHECK(find_answer(bytes, write_asked, write, false).echoed == 0);
    CHECK(find_answer(joined({bytes, bytes}), write_asked, write, false).echoed == bytes.size());
    CHECK(find_answer(bytes, write_asked, write, true).echoed == bytes.size());
}

TEST_CASE("an answer longer than it announces has no checksum where it should, and the first of two frames is taken") {
    auto longer = framed(0x11, "03 06 02 2B 00 00 00 64 00 01");
    CHECK(found(to_bytes(longer)).instead->kind == FaultKind::garbled);
    auto const second = to_bytes(framed(0x11, "03 06 00 01 00 02 00 03"));
    CHECK(to_bytes(*found(joined({answer, second})).answer) == answer);
}
