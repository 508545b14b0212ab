// Dumps made by hand: the raw words are worked out beside each, so that nothing of this house stands between the numbers
// and the registers. Big-endian registers and 16-bit words: MODBUS Application Protocol V1.1b3, clause 4.2. Floating
// point: IEEE Std 754-2019, clause 3.4, binary32: (-1)^s * 1.f * 2^(e - 127).
#include <doctest/doctest.h>

#include <algorithm>

#include "bus/decoder/bench.hpp"
#include "bus/decoder/words.hpp"
#include "bus/profile/image_in_tests.hpp"

namespace phasewright::decoder {

namespace {

Expected const europe{.nominal = {230.0, 400.0, 50.0}, .current_a = std::pair{5.0, 60.0}};

FoundField const* found(Decoding const& decoding, Quantity quantity) {
    for (auto const& field : decoding.fields)
        if (field.placed.quantity == quantity) return &field;
    return nullptr;
}
double first(Decoding const& decoding, Quantity quantity) {
    auto const* const field = found(decoding, quantity);
    REQUIRE(field != nullptr);
    return field->shown.front().front().value;
}

// 231.0, 229.0, 232.0 V; 41.20, 38.70, 44.00 A; 8756, 8153, 9391 W at a power factor of 0.92 (231 * 41.2 * 0.92 = 8755.8,
// 229 * 38.7 * 0.92 = 8153.3, 232 * 44 * 0.92 = 9391.4); vars 3730, 3473, 4001 (V I sin(acos 0.92), sin = 0.39192);
// 50.01 Hz; total 26300 W. As 16-bit numbers: V in tenths, A in hundredths, W as they are, Hz in hundredths.
constexpr auto sixteen_bits = "0906 08F2 0910"    // 2310 2290 2320
                              "1018 0F1E 1130"    // 4120 3870 4400
                              "2234 1FD9 24AF"    // 8756 8153 9391
                              "0E92 0D91 0FA1"    // 3730 3473 4001
                              "1389 66BC";        // 5001 26300

// 231.0 = 1.8046875 * 2^7: 0x43670000; 229.0: 0x43650000; 232.0: 0x43680000.
// 41.2 = 1.2875 * 2^5: 0x4224CCCD; 38.7 = 1.209375 * 2^5: 0x421ACCCD; 44.0 = 1.375 * 2^5: 0x42300000.
// 8756 = 1.06884765625 * 2^13: 0x4608D000; 8153: 0x45FEC800 (1.990478515625 * 2^12); 9391: 0x4612BC00.
// 3730 = 1.8212890625 * 2^11: 0x45692000; 3473: 0x45591000; 4001: 0x457A1000.
constexpr auto floats_high_first = "43670000 43650000 43680000 4224CCCD 421ACCCD 42300000"
                                   "4608D000 45FEC800 4612BC00 45692000 45591000 457A1000";
constexpr auto floats_low_first = "00004367 00004365 00004368 CCCD4224 CCCD421A 00004230"
                                  "D0004608 C80045FE BC004612 20004569 10004559 1000457A";

}  // namespace

TEST_CASE("sixteen-bit registers that were worked out by hand are read as they were meant") {
    std::vector<Dump> dumps(1);
    profile::put_input(dumps.front().image, 300, sixteen_bits);
    auto const decoding = decode_dumps(dumps, europe);
    CHECK(first(decoding, Quantity::v) == doctest::Approx(231.0));
    CHECK(first(decoding, Quantity::i) == doctest::Approx(41.2));
    CHECK(first(decoding, Quantity::p) == doctest::Approx(8756.0));
    CHECK(first(decoding, Quantity::q) == doctest::Approx(3730.0));
    CHECK(first(decoding, Quantity::hz) == doctest::Approx(50.01));
    CHECK(first(decoding, Quantity::p_total) == doctest::Approx(26300.0));
    auto const& volts = found(decoding, Quantity::v)->placed;
    CHECK(volts.function == codec::Function::read_input_registers);
    CHECK(volts.addresses == std::vector<std::uint16_t>{300, 301, 302});
    CHECK(found(decoding, Quantity::v)->probability > 0.99);
    CHECK(found(decoding, Quantity::p)->probability > 0.9);
    CHECK(decoding.explained == 14);
    // Nothing longer than a register was there: the word order is said to be unknown.
    REQUIRE_FALSE(decoding.doubts.empty());
    CHECK(decoding.doubts.back().find("word order") != std::string::npos);
}

TEST_CASE("binary32 numbers are read in either word order, and the order is named") {
    for (auto const& [hex, order] : {std::pair{floats_high_first, profile::Order::high_first},
                                     std::pair{floats_low_first, profile::Order::low_first}}) {
        std::vector<Dump> dumps(1);
        profile::put_holding(dumps.front().image, 0x1000, hex);
        auto const decoding = decode_dumps(dumps, europe);
        CHECK(first(decoding, Quantity::v) == doctest::Approx(231.0));
        CHECK(first(decoding, Quantity::i) == doctest::Approx(41.2));
        CHECK(first(decoding, Quantity::p) == doctest::Approx(8756.0));
        auto const& placed = found(decoding, Quantity::i)->placed;
        CHECK(placed.format.words == order);
        CHECK(placed.format.type == profile::ValueType::float32);
        CHECK(placed.addresses.front() == 0x1006);
    }
}

TEST_CASE("without an expected current the scale of currents and powers is left in doubt, with the way out") {
    std::vector<Dump> dumps(1);
    profile::put_input(dumps.front().image, 300, sixteen_bits);
    auto expected = europe;
    expected.current_a.reset();
    auto const decoding = decode_dumps(dumps, expected);
    auto const* const amperes = found(decoding, Quantity::i);
    REQUIRE(amperes != nullptr);
    CHECK(amperes->probability < 0.9);
    REQUIRE_FALSE(amperes->rivals.empty());
    CHECK(amperes->rivals.front().placed.addresses == amperes->placed.addresses);
    CHECK(std::ranges::any_of(decoding.doubts, [](std::string const& doubt) { return doubt.find("clamp") != std::string::npos; }));
}

TEST_CASE("a register of all bits set among the currents is no current") {
    // 231 * 41.2 * 0.92 = 8755.8, 229 * 12.7 * 0.88 = 2559.3, 232 * 29.9 * 0.95 = 6590.0; vars with sin(acos) 0.39192,
    // 0.47497, 0.31225: 3730.0, 1381.4, 2166.0. The third current says that there is no value.
    std::vector<Dump> dumps(1);
    std::uint16_t address = 300;
    for (int const word : {2310, 2290, 2320, 4120, 1270, 0xFFFF, 8756, 2559, 6590, 3730, 1381, 2166, 5001, 17905})
        dumps.front().image.input[address++] = static_cast<std::uint16_t>(word);
    auto const decoding = decode_dumps(dumps, europe);
    auto const* const amperes = found(decoding, Quantity::i);
    REQUIRE(amperes != nullptr);
    CHECK(amperes->placed.addresses.front() == 303);
    CHECK(amperes->shown.front()[1].value == doctest::Approx(12.7));
    CHECK(amperes->shown.front()[2].state == Shown::State::nothing);
}

TEST_CASE("five equal voltages in a row are not told apart") {
    std::vector<Dump> dumps(1);
    for (std::uint16_t address = 10; address < 15; ++address) dumps.front().image.holding[address] = 2300;
    auto const decoding = decode_dumps(dumps, europe);
    auto const* const volts = found(decoding, Quantity::v);
    REQUIRE(volts != nullptr);
    CHECK(volts->probability < 0.6);
    CHECK(volts->rivals.size() >= 2);
    CHECK_FALSE(decoding.doubts.empty());
}

TEST_CASE("registers that mean nothing give no layout that anybody would believe") {
    std::vector<Dump> dumps(1);
    for (std::uint16_t address = 0; address < 60; ++address) dumps.front().image.holding[address] = 0;
    auto const decoding = decode_dumps(dumps, europe);
    CHECK(decoding.fields.empty());
    REQUIRE(decoding.doubts.size() == 1);
    CHECK(decoding.doubts.front().starts_with("No voltages near the nominal"));
}

TEST_CASE("random registers give a layout that says itself that it may be chance") {
    std::vector<Dump> dumps(1);
    std::uint32_t state = 20061028;  // a linear congruential generator, Numerical Recipes' constants
    for (std::uint16_t address = 0; address < 80; ++address) {
        state = state * 1664525U + 1013904223U;
        dumps.front().image.holding[address] = static_cast<std::uint16_t>(state >> 16U);
    }
    auto const decoding = decode_dumps(dumps, europe);
    for (auto const& field : decoding.fields) CHECK(field.probability < 0.6);
    CHECK_FALSE(decoding.doubts.empty());
}

TEST_CASE("a counter's rise against the power beside it tells its unit") {
    std::vector<Dump> dumps(2);
    for (std::size_t at = 0; at < 2; ++at) {
        dumps[at].time_s = 600.0 * static_cast<double>(at);
        profile::put_input(dumps[at].image, 300, sixteen_bits);
        // 26 300 W for 600 s are 4383 Wh: 7 654 321 Wh = 0x0074CBB1 becomes 7 658 704 = 0x0074DCD0.
        profile::put_input(dumps[at].image, 320, at == 0 ? "0074 CBB1" : "0074 DCD0");
    }
    auto const decoding = decode_dumps(dumps, europe);
    auto const* const counter = found(decoding, Quantity::energy_import);
    REQUIRE(counter != nullptr);
    CHECK(counter->placed.addresses.front() == 320);
    CHECK(counter->placed.exponent == 0);
    CHECK(counter->placed.format.words == profile::Order::high_first);
    CHECK(counter->probability > 0.95);
    CHECK(counter->why.starts_with("rises by 4383 Wh in 600 s"));
}

}  // namespace phasewright::decoder
