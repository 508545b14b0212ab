// A virtual meter's answers as bytes, before any socket: requests and exceptions of the MODBUS Application
// Protocol V1.1b3, clauses 6.3, 6.12 and 7.
#include "bus/twin/registers.hpp"

#include <doctest/doctest.h>

using namespace phasewright;
using twin::answer_pdu;

namespace {
codec::Bytes hex(std::string_view text) { return *codec::from_hex(text); }

twin::Face tenant() {
    return {.service = plan::Service::four_wire_wye,
            .programmed = {100.0, 5.0},
            .highest_v = 230.0,
            .serial = "S-1"};
}
readings::Snapshot shown() {
    readings::Snapshot made;
    made.v = {230.0, 231.0, 232.0};
    made.i = {10.0, 11.0, 12.0};
    made.p = {2300.0, -2541.0, 2784.0};
    made.p_total = 2543.0;
    return made;
}
}  // namespace

TEST_CASE("a read is answered, a write is refused, nonsense is named") {
    auto const face = tenant();
    auto const image = twin::image_of(face, shown());
    auto const identity = twin::identity_of(face);
    auto const answered = [&](std::string_view request) {
        return codec::to_hex(answer_pdu(hex(request), image, identity));
    };
    CHECK(answered("03 9C 40 00 02") == "03 04 53 75 6E 53");  // "SunS"
    CHECK(answered("03 9C 86 00 02") == "03 04 00 CB 00 69");  // model 203, 105 registers
    CHECK(answered("03 00 00 00 01") == "83 02");              // no such register
    CHECK(answered("03 9C 40 00 7E") == "83 03");              // 126 registers are one too many
    CHECK(answered("06 9C 40 00 01") == "86 01");              // it cannot be written
    CHECK(answered("10 9C 40 00 01 02 00 00") == "90 01");
    CHECK(answered("63 00") == "E3 01");  // no such function
    CHECK(answered("2B 0E 01 00").starts_with("2B 0E 01 "));
    CHECK(answered("2B 0D 01 00") == "AB 01");
}

TEST_CASE("the steps of integer registers follow the rated current, so that none of them ends early") {
    auto face = tenant();
    face.programmed = {800.0, 5.0};
    auto const image = twin::image_of(face, shown());
    auto const at = [&](std::uint16_t offset) {
        return *profile::register_at(image, codec::Function::read_holding_registers, 40070U + offset);
    };
    CHECK(static_cast<std::int16_t>(at(6)) == -1);  // A_SF: 960 A in steps of 0.1 A
    CHECK(at(3) == 100);
    CHECK(static_cast<std::int16_t>(at(22)) == 2);  // W_SF: 795 kW in steps of 100 W
    CHECK(static_cast<std::int16_t>(at(20)) == -25);
}

TEST_CASE("the model follows the service and the kind of numbers") {
    twin::Face face = tenant();
    CHECK(twin::sunspec_model_of(face, 3) == 203);
    face.float_numbers = true;
    CHECK(twin::sunspec_model_of(face, 3) == 213);
    face.service = plan::Service::three_wire_two_element;
    CHECK(twin::sunspec_model_of(face, 2) == 214);
    face.service = plan::Service::split_phase_three_wire;
    CHECK(twin::sunspec_model_of(face, 2) == 212);
    face.service = plan::Service::one_phase_two_wire;
    CHECK(twin::sunspec_model_of(face, 1) == 211);
}

TEST_CASE("a profile whose power factor is positive when leading gets it that way") {
    auto const read = profile::read_profile(R"(name = "Bench meter"
maker = "nobody"
type = "int16"
[measurements.v]
registers = [0, 1, 2]
[measurements.i]
registers = [3, 4, 5]
[measurements.pf]
registers = [6, 7, 8]
scale = 0.001
[signs]
pf = "ieee"
var = "iec"
[[services]]
service = "3P4W"
elements = [1, 2, 3]
[terminals]
voltage = ["1", "2", "3"]
neutral = "N"
current = [{ s1 = "4", s2 = "5" }, { s1 = "6", s2 = "7" }, { s1 = "8", s2 = "9" }]
)",
                                            "bench.toml");
    REQUIRE_MESSAGE(read.has_value(), (read ? std::string{} : quantity::to_sentence(read.error())));
    auto face = tenant();
    face.profile = *read;
    auto made = shown();
    made.q = {500.0, 500.0, -500.0};
    made.pf = {0.977, -0.98, 0.98};
    auto const image = twin::image_of(face, made);
    auto const at = [&](std::uint32_t address) {
        return static_cast<std::int16_t>(
            *profile::register_at(image, codec::Function::read_holding_registers, address));
    };
    CHECK(at(0) == 230);
    CHECK(at(6) == -977);  // draws, lags
    CHECK(at(7) == 980);   // delivers, and takes vars
    CHECK(at(8) == 980);   // draws, leads
}
