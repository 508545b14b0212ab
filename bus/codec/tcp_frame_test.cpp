#include "bus/codec/tcp_frame.hpp"

#include <doctest/doctest.h>

#include "bus/codec/hex_in_tests.hpp"
#include "bus/codec/question.hpp"

namespace phasewright::codec {

namespace {
// MODBUS Messaging on TCP/IP V1.0b: transaction 1, protocol 0, 6 bytes follow, unit 1, read registers 108 to
// 110.
constexpr auto question_108_to_110 = "00 01  00 00  00 06  01  03 00 6B 00 03";
// The answer with the three values of MODBUS Application Protocol V1.1b3, clause 6.3: 555, 0 and 100.
constexpr auto answer_108_to_110 = "00 01  00 00  00 09  01  03 06 02 2B 00 00 00 64";
}  // namespace

TEST_CASE("the header of the guide's example reads as transaction 1, unit 1 and its PDU") {
    auto const frame = read_tcp_frame(hex(question_108_to_110));
    REQUIRE(frame.has_value());
    CHECK(frame->transaction == 1);
    CHECK(frame->unit == 1);
    CHECK(frame->pdu == hex("03 00 6B 00 03"));
    CHECK(to_bytes(*frame) == hex(question_108_to_110));
}

TEST_CASE("the length in the header is 7 for two registers and 3 for an exception") {
    // Both figures: MODBUS Messaging on TCP/IP V1.0b.
    std::uint16_t const values[] = {0x1234, 0x5678};
    ReadRegisters const asked{.function = Function::read_holding_registers, .address = 0, .count = 2};
    auto const two =
        to_bytes(TcpFrame{.transaction = 0x1501, .unit = 0xFF, .pdu = registers_pdu(asked, values)});
    CHECK(u16_at(two, 4) == 7);
    CHECK(to_hex(two) == "15 01 00 00 00 07 FF 03 04 12 34 56 78");
    auto const refused = exception_pdu(0x03, ExceptionCode::illegal_data_address);
    CHECK(u16_at(to_bytes(TcpFrame{.transaction = 1, .unit = 1, .pdu = refused}), 4) == 3);
}

TEST_CASE("a header that breaks one rule is garbled and says which") {
    struct Broken {
        char const* change;
        char const* bytes;
        char const* said;
    };
    for (auto const& broken : {
             Broken{"protocol id 1", "00 01  00 01  00 06  01  03 00 6B 00 03",
                    "the protocol id is 1, Modbus is 0"},
             Broken{"nothing after the unit", "00 01  00 00  00 01  01",
                    "the header announces 1 bytes; allowed are 2 to 254"},
             Broken{"length one over the limit", "00 01  00 00  00 FF  01  03 00 6B 00 03",
                    "the header announces 255 bytes; allowed are 2 to 254"},
             Broken{"one byte missing", "00 01  00 00  00 06  01  03 00 6B 00",
                    "11 bytes; the header announces 12"},
             Broken{"one byte too many", "00 01  00 00  00 06  01  03 00 6B 00 03 00",
                    "13 bytes; the header announces 12"},
             Broken{"only half a header", "00 01  00 00", "4 bytes; the shortest frame has 8"},
             Broken{"text of another protocol", "48 54 54 50 2F 31 2E 31",
                    "the protocol id is 21584, Modbus is 0"},
         }) {
        CAPTURE(broken.change);
        auto const frame = read_tcp_frame(hex(broken.bytes));
        REQUIRE_FALSE(frame.has_value());
        CHECK(frame.error().kind == FaultKind::garbled);
        CHECK(frame.error().detail == broken.said);
    }
}

TEST_CASE("an answer with another transaction or unit is told apart") {
    TcpFrame const asked{.transaction = 7, .unit = 3, .pdu = hex("03 00 00 00 01")};
    auto const late = mismatch({.transaction = 6, .unit = 3, .pdu = hex("83 02")}, asked);
    REQUIRE(late.has_value());
    CHECK(late->kind == FaultKind::wrong_transaction);
    auto const stranger = mismatch({.transaction = 7, .unit = 4, .pdu = hex("83 02")}, asked);
    REQUIRE(stranger.has_value());
    CHECK(stranger->kind == FaultKind::wrong_unit);
    CHECK(stranger->detail == "unit 3 was asked, unit 4 answered");
    CHECK_FALSE(mismatch({.transaction = 7, .unit = 3, .pdu = hex("83 02")}, asked).has_value());
}

TEST_CASE("a stream cut at any place gives the same frames") {
    auto stream = hex(question_108_to_110);
    put_bytes(stream, hex(answer_108_to_110));
    for (std::size_t first_cut = 0; first_cut <= stream.size(); ++first_cut) {
        for (std::size_t second_cut = first_cut; second_cut <= stream.size(); ++second_cut) {
            TcpAssembler assembler;
            std::vector<TcpFrame> frames;
            auto const feed = [&](BytesView piece) {
                auto result = assembler.feed(piece);
                REQUIRE_FALSE(result.fault.has_value());
                frames.insert(frames.end(), result.frames.begin(), result.frames.end());
            };
            feed(BytesView(stream).first(first_cut));
            feed(BytesView(stream).subspan(first_cut, second_cut - first_cut));
            feed(BytesView(stream).subspan(second_cut));
            REQUIRE(frames.size() == 2);
            CHECK(to_bytes(frames[0]) == hex(question_108_to_110));
            CHECK(to_bytes(frames[1]) == hex(answer_108_to_110));
            CHECK(assembler.held() == 0);
        }
    }
}

TEST_CASE("a stream that loses its step gives what was whole, then a fault for good") {
    TcpAssembler assembler;
    auto stream = hex(answer_108_to_110);
    put_bytes(stream, hex("00 02  00 07  00 05  01  03 02 00 64"));  // the protocol id is 7
    auto const result = assembler.feed(stream);
    CHECK(result.frames.size() == 1);
    REQUIRE(result.fault.has_value());
    CHECK(result.fault->kind == FaultKind::garbled);
    CHECK(assembler.feed(hex(answer_108_to_110)).frames.empty());
    CHECK(assembler.feed(hex(answer_108_to_110)).fault.has_value());
    assembler.clear();
    CHECK(assembler.feed(hex(answer_108_to_110)).frames.size() == 1);
}

TEST_CASE("an assembler never holds more than the start of one frame") {
    TcpAssembler assembler;
    auto flood = hex("00 01 00 00 00 FE 01");  // announces the longest frame
    flood.resize(259);                         // one byte short of it
    CHECK(assembler.feed(flood).frames.empty());
    CHECK(assembler.held() == 259);
    Bytes const zeros(100000, std::byte{0});  // completes it; then zeros announce an empty frame
    auto const result = assembler.feed(zeros);
    CHECK(result.frames.size() == 1);
    CHECK(result.fault.has_value());
    CHECK(assembler.held() == 0);
}

}  // namespace phasewright::codec
