// SunSpec meters written by hand as hex, register by register, with a gloss. Types, scale factors and the
// sentinels for what a meter does not offer are those of the model files (sunspec/models, commit 7abdf8982d53) and of
// the alliance's reference library. The readings are the true case of the demo building: 231/229/232
// V, 41.2/38.7/44.0 A.
#include "bus/profile/sunspec.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "bus/profile/image_in_tests.hpp"
#include "bus/profile/sunspec_layout.hpp"

namespace phasewright::profile {

namespace {

constexpr auto wye_203 =
    "00CB 0069 "                                // 0: model 203, 105 registers follow
    "04D7 019C 0183 01B8 FFFF "                 // 2: A 123.9, phases 41.2 38.7 44.0; scale -1
    "0907 0906 08F2 0910 "                      // 7: PhV 231.1, phases 231.0 229.0 232.0
    "0FA2 0F90 0F98 0FAA FFFF "                 // 11: PPV 400.2, 398.4 399.2 401.0; scale -1
    "1388 FFFE "                                // 16: 50.00 Hz
    "03E7 036C FCD1 03AB 0001 "                 // 18: W 9990, phases 8760 -8150 9390; scale +1
    "0B2C 03B8 0376 03FD 0001 "                 // 23: VA
    "01AA 0175 FEA5 018F 0001 "                 // 28: VAR 4260, phases 3730 -3470 3990; scale +1
    "8000 8000 8000 8000 8000 "                 // 33: no PF
    "0000 0000 0000 0000 0000 0000 0000 0000 "  // 38: energy exported
    "0001 0000 0000 0000 0000 0000 0000 0000 "  // 46: energy imported
    "0000 "                                     // 54: its scale
    "0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 8000 "  // 55: VAh
    "0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 "  // 72: varh Q1, Q2
    "0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 0000 8000 "  // 88: varh Q3,
                                                                                             // Q4
    "0000 0000";                                                                             // 105: no event

// The same body with some registers exchanged.
codec::Registers changed(codec::Registers body, std::uint16_t offset, std::string_view hex_text) {
    for (auto const value : registers(hex_text)) body.at(offset++) = value;
    return body;
}

void check_column(readings::Column const& column, std::vector<double> const& expected,
                  double tolerance = 1e-9) {
    REQUIRE(column.size() == expected.size());
    for (std::size_t at = 0; at < expected.size(); ++at) {
        REQUIRE(column[at].has_value());
        CHECK(std::abs(*column[at] - expected[at]) <= tolerance);
    }
}

}  // namespace

TEST_CASE("a wye meter of model 203 is read point by point with its scale factors") {
    auto const body = registers(wye_203);
    REQUIRE(body.size() == 107);
    auto const meter = decode_sunspec(203, body);
    check_column(meter.snapshot.v, {231.0, 229.0, 232.0});
    check_column(meter.snapshot.i, {41.2, 38.7, 44.0});
    check_column(meter.snapshot.p, {8760.0, -8150.0, 9390.0});
    check_column(meter.snapshot.q, {3730.0, -3470.0, 3990.0});
    check_column(meter.snapshot.s, {9520.0, 8860.0, 10210.0});
    check_column(meter.snapshot.v_ll, {398.4, 399.2, 401.0});
    CHECK(meter.snapshot.hz == 50.0);
    CHECK(meter.snapshot.p_total == 9990.0);
    CHECK(meter.snapshot.q_total == 4260.0);
    CHECK(meter.snapshot.pf.empty());
    CHECK(meter.resolution.v == 0.1);
    CHECK(meter.resolution.p == 10.0);
    CHECK(meter.notes.empty());
}

TEST_CASE("what a meter does not implement stays empty, in each point's own sentinel") {
    auto body = changed(registers(wye_203), 9, "8000");               // PhVphB
    body = changed(std::move(body), 28, "8000 8000 8000 8000 8000");  // no VAR
    body = changed(std::move(body), 16, "1388 8000");                 // Hz without its scale: counts as 10^0
    body = changed(std::move(body), 27, "000B");                      // VA with a scale out of range
    auto const meter = decode_sunspec(203, body);
    CHECK_FALSE(meter.snapshot.v[1].has_value());
    CHECK(meter.snapshot.q.empty());
    CHECK_FALSE(meter.snapshot.q_total.has_value());
    CHECK(meter.snapshot.hz == 5000.0);
    CHECK(meter.snapshot.s.empty());
}

TEST_CASE("the sign of the power factor is not trusted, and it is used only where vars are missing") {
    auto body = changed(registers(wye_203), 33, "FFA4 FFA4 005C 005C 0000");  // -92, -92, 92, 92 per cent
    CHECK(decode_sunspec(203, body).snapshot.pf.empty());
    body = changed(std::move(body), 28, "8000 8000 8000 8000 8000");
    auto const meter = decode_sunspec(203, body);
    check_column(meter.snapshot.pf, {0.92, 0.92, 0.92});
    CHECK(meter.snapshot.pf_total.value() == doctest::Approx(0.92));
    CHECK(meter.pf_sign == readings::SignHabit::unsigned_);
    CHECK(meter.notes.size() == 1);
}

TEST_CASE("a wye meter of model 213 is read as floating point, high word first") {
    // IEEE 754 single: 230.5 is 43668000, 10.25 is 41240000, -1500 is C4BB8000, 50 is 42480000.
    codec::Registers body = registers("00D5 007C");
    body.resize(126, 0);
    for (std::size_t at = 2; at < 124; at += 2) body[at] = 0x7FC0;  // NaN everywhere
    body = changed(std::move(body), 12, "4366 8000 4366 8000 7FC0 0000");
    body = changed(std::move(body), 4, "4124 0000 4124 0000 4124 0000");
    body = changed(std::move(body), 26, "4248 0000");
    body = changed(std::move(body), 30, "C4BB 8000 C4BB 8000 7F80 0000");  // the last is infinite
    auto const meter = decode_sunspec(213, body);
    CHECK(meter.snapshot.v == readings::Column{230.5, 230.5, std::nullopt});
    check_column(meter.snapshot.i, {10.25, 10.25, 10.25});
    CHECK(meter.snapshot.p == readings::Column{-1500.0, -1500.0, std::nullopt});
    CHECK(meter.snapshot.hz == 50.0);
    CHECK(meter.snapshot.q.empty());
    CHECK_FALSE(meter.resolution.v.has_value());
}

TEST_CASE("a split-phase meter of model 202 gives two elements and one line voltage") {
    auto body = changed(registers(wye_203), 0, "00CA");
    body = changed(std::move(body), 7, "04B0 04B0 04B5 8000");        // 120.0, 120.5 V, no third phase
    body = changed(std::move(body), 11, "0965 0965 8000 8000 FFFF");  // 240.5 V
    auto const meter = decode_sunspec(202, body);
    check_column(meter.snapshot.v, {120.0, 120.5});
    check_column(meter.snapshot.i, {41.2, 38.7});
    check_column(meter.snapshot.p, {8760.0, -8150.0});
    check_column(meter.snapshot.v_ll, {240.5});
    CHECK(service_of_model(202) == plan::Service::split_phase_three_wire);
}

TEST_CASE("a delta meter of model 204 that gives line voltages only gets the volts to the mean of the taps") {
    auto body = changed(registers(wye_203), 0, "00CC");
    body = changed(std::move(body), 7, "8000 8000 8000 8000");
    SUBCASE("equal line voltages: 400 V over root 3") {
        body = changed(std::move(body), 11, "0FA0 0FA0 0FA0 0FA0 FFFF");
        check_column(decode_sunspec(204, body).snapshot.v, {230.940108, 230.940108, 230.940108}, 1e-6);
    }
    SUBCASE("unequal line voltages of a known triangle") {
        // Corners at (0, 0), (300, 0), (0, 400) V: sides 300, 500, 400; centre (100, 400/3). By Pythagoras:
        // 166.667, 240.370 and 284.800 V.
        body = changed(std::move(body), 11, "0FA0 0BB8 1388 0FA0 FFFF");
        auto const meter = decode_sunspec(204, body);
        check_column(meter.snapshot.v, {166.66667, 240.37009, 284.80012}, 1e-4);
        CHECK(meter.notes.size() == 1);
    }
    SUBCASE("only the mean") {
        body = changed(std::move(body), 11, "0FA0 8000 8000 8000 FFFF");
        auto const meter = decode_sunspec(204, body);
        check_column(meter.snapshot.v, {230.940108, 230.940108, 230.940108}, 1e-6);
        CHECK(meter.snapshot.v_ll.empty());
        CHECK(meter.notes.size() == 1);
    }
    SUBCASE("sides that make no triangle") {
        body = changed(std::move(body), 11, "0FA0 0064 0064 0FA0 FFFF");
        CHECK_FALSE(decode_sunspec(204, body).snapshot.v[1].has_value());
    }
    SUBCASE("two elements as planned: V12 with the first current, V32 with the last") {
        auto const meter = decode_sunspec(204, body, plan::Service::three_wire_two_element);
        check_column(meter.snapshot.v, {398.4, 399.2});
        check_column(meter.snapshot.i, {41.2, 44.0});
        check_column(meter.snapshot.p, {8760.0, 9390.0});
    }
}

TEST_CASE("a one-phase meter may give totals only") {
    auto body = changed(registers(wye_203), 0, "00C9");
    body = changed(std::move(body), 3, "8000 8000 8000");
    body = changed(std::move(body), 8, "8000 8000 8000");
    body = changed(std::move(body), 19, "8000 8000 8000");
    auto const meter = decode_sunspec(201, body);
    check_column(meter.snapshot.v, {231.1});
    check_column(meter.snapshot.i, {123.9});
    check_column(meter.snapshot.p, {9990.0});
    CHECK(meter.snapshot.v_ll.empty());
}

TEST_CASE("a body that is shorter than the standard's is read as far as it goes") {
    auto body = registers(wye_203);
    body.resize(20);
    auto const meter = decode_sunspec(203, body);
    CHECK(meter.snapshot.v[2] == 232.0);
    CHECK(meter.snapshot.p.empty());  // its scale is cut off; without one W would be wrong by ten
    CHECK(decode_sunspec(203, registers("00CB 0069")).snapshot.v.size() == 3);
}

TEST_CASE("model 1 says who the device is") {
    codec::Registers body = registers("0001 0042");
    body.resize(68, 0);
    body = changed(std::move(body), 2, "5461 726E 6665 6C6C");  // "Tarnfell"
    body = changed(std::move(body), 18, "5433");                // "T3"
    body = changed(std::move(body), 50, "5459 2D37");           // "TY-7"
    body = changed(std::move(body), 66, "0011");
    auto const identity = decode_common(body);
    CHECK(to_text(identity) == "Tarnfell T3, serial TY-7");
    CHECK(identity.address == 17);
    CHECK(decode_common(registers("0001 0042")).maker.empty());
}

TEST_CASE("the image of a device has its marker, models and end where the arithmetic puts them") {
    // Base 40000: marker 40000, model 1 at 40002, meter at 40070, end at 40177 or, in floating point, at
    // 40196.
    SunspecIdentity const who{.maker = "Tarnfell", .model = "T3", .serial = "TY-7"};
    auto const shown = decode_sunspec(203, registers(wye_203)).snapshot;
    auto const image = sunspec_image(203, shown, who, {.a = -1, .v = -1, .w = 1, .va = 1, .var = 1});
    CHECK(image.input.empty());
    CHECK(image.holding.at(40000) == 0x5375);
    CHECK(image.holding.at(40001) == 0x6E53);
    CHECK(image.holding.at(40002) == 1);
    CHECK(image.holding.at(40003) == 66);
    CHECK(image.holding.at(40070) == 203);
    CHECK(image.holding.at(40071) == 105);
    CHECK(image.holding.at(40177) == 0xFFFF);
    CHECK(image.holding.at(40178) == 0);
    CHECK(image.holding.size() == 179);
    // Register by register the hand-written body, up to where the energies begin (the image counts none).
    auto const body = registers(wye_203);
    for (std::uint16_t offset = 0; offset < 33; ++offset) {
        if (offset == 7 || offset == 11 || offset == 23)
            continue;  // means and the total VA are the image's own
        CAPTURE(offset);
        CHECK(image.holding.at(static_cast<std::uint16_t>(40070 + offset)) == body[offset]);
    }
    auto const floating = sunspec_image(213, shown, who);
    CHECK(floating.holding.at(40196) == 0xFFFF);
    CHECK(floating.holding.at(40070 + 18 + 2) == 0x43C7);  // PPVphAB 398.4 = 0x43C73333
    CHECK(floating.holding.at(40070 + 18 + 3) == 0x3333);
    CHECK(sunspec_image(203, shown, who, {}, 0).holding.at(0) == 0x5375);
}

TEST_CASE("a number too large for its register is held at the last that is not a sentinel") {
    readings::Snapshot shown;
    shown.i = {9999.0, 1.0, 1.0};
    shown.p = {-1e6, 0.0, 0.0};
    auto const image = sunspec_image(203, shown, {});
    CHECK(image.holding.at(40070 + 3) == 0x7FFF);
    CHECK(image.holding.at(40070 + 19) == 0x8001);
    CHECK(image.holding.at(40070 + 8) == 0x8000);  // no volts
}

}  // namespace phasewright::profile
