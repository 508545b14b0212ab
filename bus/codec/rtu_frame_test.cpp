#include "bus/codec/rtu_frame.hpp"

#include <doctest/doctest.h>

#include "bus/codec/hex_in_tests.hpp"

namespace phasewright::codec {

TEST_CASE("the checksum of the serial-line guide's own example is 0x1241 and travels as 41 12") {
    // MODBUS over Serial Line V1.02, appendix B: unit 02, function 07.
    CHECK(crc16(hex("02 07")) == 0x1241);
    CHECK(to_hex(to_bytes(RtuFrame{.unit = 2, .pdu = hex("07")})) == "02 07 41 12");
}

TEST_CASE("the checksum of nine digits is the catalogued check value of CRC-16/MODBUS") {
    // 0x4B37 for ASCII "123456789": the check value by which catalogues of CRCs tell this one from the others
    // (from memory; computed again by another program from the definition in appendix B).
    CHECK(crc16(hex("31 32 33 34 35 36 37 38 39")) == 0x4B37);
}

TEST_CASE("frames carry the checksums computed apart from this code") {
    // Computed from the definition in appendix B by another program.
    for (auto const* const frame : {
             "01 03 00 00 00 0A C5 CD",  // unit 1, read ten holding registers from 0
             "01 03 00 00 00 02 C4 0B",  // two registers
             "11 03 00 6B 00 03 76 87",  // unit 17, registers 108 to 110
             "01 04 00 08 00 01 B0 08",  // one input register, 9
             "11 05 00 AC FF 00 4E 8B",  // a coil on
             "01 83 02 C0 F1",           // exception: illegal data address
             "01 03 9C 40 00 02 EB 8F",  // the two registers at 40000, where "SunS" may stand
             "01 03 9C 40 00 45 AB BD",  // 69 registers from 40000 on
         }) {
        CAPTURE(frame);
        auto const bytes = hex(frame);
        auto const read = read_rtu_frame(bytes);
        REQUIRE(read.has_value());
        CHECK(to_hex(to_bytes(*read)) == frame);
    }
}

TEST_CASE("every single flipped bit of a serial frame is seen") {
    auto const good = hex("11 03 00 6B 00 03 76 87");
    for (std::size_t bit = 0; bit < good.size() * 8; ++bit) {
        CAPTURE(bit);
        auto broken = good;
        broken[bit / 8] ^= static_cast<std::byte>(1U << bit % 8);
        auto const read = read_rtu_frame(broken);
        REQUIRE_FALSE(read.has_value());
        CHECK(read.error().kind == FaultKind::garbled);
    }
}

TEST_CASE("a serial frame that is too short or too long is garbled, not read") {
    CHECK(read_rtu_frame({}).error().kind == FaultKind::garbled);
    CHECK(read_rtu_frame(hex("01 83 02")).error().kind == FaultKind::garbled);
    Bytes const flood(257, std::byte{0});
    CHECK(read_rtu_frame(flood).error().detail == "257 bytes; the longest frame has 256");
}

TEST_CASE("a serial answer from another unit is told apart") {
    RtuFrame const asked{.unit = 17, .pdu = hex("03 00 6B 00 03")};
    RtuFrame const answer{.unit = 18, .pdu = hex("03 02 00 00")};
    auto const fault = mismatch(answer, asked);
    REQUIRE(fault.has_value());
    CHECK(fault->kind == FaultKind::wrong_unit);
    CHECK_FALSE(mismatch({.unit = 17, .pdu = {}}, asked).has_value());
}

}  // namespace phasewright::codec
