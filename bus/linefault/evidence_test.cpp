#include <doctest/doctest.h>

#include <random>

#include "bus/codec/hex_in_tests.hpp"
#include "bus/codec/rtu_frame.hpp"
#include "bus/linefault/evidence.hpp"

namespace phasewright::linefault {

namespace {
codec::Bytes framed(std::string_view body) {
    auto const bytes = codec::hex(body);
    return codec::to_bytes({.unit = codec::u8_at(bytes, 0), .pdu = codec::Bytes(bytes.begin() + 1, bytes.end())});
}
codec::Bytes operator+(codec::Bytes a, codec::Bytes const& b) {
    codec::put_bytes(a, b);
    return a;
}

// Question of MODBUS Application Protocol V1.1b3, clause 6.3, to unit 7.
Seen seen(codec::Bytes const& heard, double after_s = 0.05, std::size_t echoed = 0) {
    port::Exchange exchange{.unit = 7, .sent = framed("07 03 00 6B 00 03"), .heard = heard, .arrivals = {}, .echoed = echoed};
    if (!heard.empty()) exchange.arrivals = {{after_s, heard.size()}};
    return seen_in(exchange, 0.5);
}
codec::Bytes const answer = framed("07 03 06 02 2B 00 00 00 64");
}  // namespace

TEST_CASE("an answer, a refusal, silence and a late answer are told apart") {
    CHECK(seen(answer).came == Came::good);
    CHECK(seen(framed("07 83 02")).came == Came::good);
    CHECK(seen({}).came == Came::nothing);
    CHECK(seen(answer, 0.7).came == Came::late);
}

TEST_CASE("a wrong checksum under the right head is that, other bytes are garbage") {
    auto broken = answer;
    broken[4] ^= std::byte{0x10};
    CHECK(seen(broken).came == Came::bad_checksum);
    CHECK(seen(codec::hex("51 9A 33 5C 27 66 4D 13 95 22 A7")).came == Came::garbage);
    CHECK(seen(codec::hex("07")).came == Came::garbage);
}

TEST_CASE("two answers at once: one behind the other, or much more than one") {
    CHECK(seen(answer + answer).came == Came::two_answers);
    // The second begins after four bytes of the first.
    CHECK(seen(codec::hex("07 03 06 02") + answer + codec::hex("2B 00 00")).came == Came::two_answers);
}

TEST_CASE("whole frames that nobody asked for are another master's or another unit's") {
    CHECK(seen(framed("09 03 00 00 00 02")).came == Came::foreign);
    CHECK(seen(framed("08 03 06 02 2B 00 00 00 64")).came == Came::foreign);
}

TEST_CASE("zeros and turned bits speak of an exchanged pair") {
    CHECK(seen(codec::hex("00 00 00")).came == Came::inverted);
    auto turned = answer;
    for (auto& byte : turned) byte = ~byte;
    CHECK(seen(turned).came == Came::inverted);
}

TEST_CASE("bits that come in pairs speak of a slower sender") {
    // Start bit low and doubled: F8 is 0 000 11111 1 on the wire, 80 is 0 0000000 1 1, and so on (derived).
    CHECK(seen(codec::hex("F8 80 FE 78 E0 06 80 F8")).came != Came::good);
    CHECK(seen(codec::hex("F8 E0 80 F8 80 E0 F8 E0")).came == Came::other_speed);
}

TEST_CASE("the question that comes back first is an echo, however it was told") {
    auto const question = framed("07 03 00 6B 00 03");
    auto const noticed = seen(question + answer);
    CHECK(noticed.echoed);
    CHECK(noticed.came == Came::good);
    CHECK(seen(question + answer, 0.05, question.size()).came == Came::good);
    auto const alone = seen(question);
    CHECK(alone.echoed);
    CHECK(alone.came == Came::nothing);
}

TEST_CASE("any bytes at all are seen as something") {
    std::mt19937 dice(7);
    for (int i = 0; i < 5000; ++i) {
        codec::Bytes heard(dice() % 300);
        for (auto& byte : heard) byte = static_cast<std::byte>(dice() & 255U);
        port::Exchange exchange{.unit = 7, .sent = heard.size() % 3 == 0 ? codec::Bytes{} : framed("07 03 00 6B 00 03"), .heard = heard};
        exchange.echoed = dice() % 400;
        auto const came = seen_in(exchange, 0.5).came;
        CHECK(name_of(came) != "unknown");
    }
}

TEST_CASE("a good answer behind a stray byte is told from a spoiled one") {
    for (auto const* stray : {"FF", "00", "FF 00"}) {
        auto bytes = codec::hex(stray);
        codec::put_bytes(bytes, codec::to_bytes({.unit = 5, .pdu = codec::hex("03 02 00 07")}));
        port::Exchange exchange{.unit = 5};
        exchange.sent = codec::to_bytes({.unit = 5, .pdu = codec::hex("03 00 00 00 01")});
        exchange.heard = bytes;
        CHECK(seen_in(exchange, 1.0).came == Came::after_stray);
    }
}

}  // namespace phasewright::linefault
