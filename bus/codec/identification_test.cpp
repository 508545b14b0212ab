#include <doctest/doctest.h>

#include "bus/codec/hex_in_tests.hpp"
#include "bus/codec/question.hpp"

namespace phasewright::codec {

namespace {
// An invented device with the three objects that every device must have (clause 6.21).
std::vector<IdentificationObject> const three_objects{{0, "Oakenmere"}, {1, "OK-3"}, {2, "V1.0"}};
constexpr auto basic_answer =
    "2B 0E 01 01 00 00 03 "              // read code 1, conformity 1, nothing follows, 3 objects
    "00 09 4F 61 6B 65 6E 6D 65 72 65 "  // 0: "Oakenmere"
    "01 04 4F 4B 2D 33 "                 // 1: "OK-3"
    "02 04 56 31 2E 30";                 // 2: "V1.0"
}  // namespace

// The layout is from memory of clause 6.21; tests/journeys/modbus_peer_test.cpp reads one from an independent
// server.
TEST_CASE("a basic identification carries its three objects in order") {
    ReadIdentification const asked{.code = IdentificationCode::basic, .first_object = 0};
    CHECK(question_pdu(asked).value() == hex("2B 0E 01 00"));
    CHECK(parse_question(hex("2B 0E 01 00")).value() == Question{asked});
    CHECK(identification_pdu(asked, three_objects, 0x01).value() == hex(basic_answer));
    auto const answer = read_answer(hex(basic_answer), asked);
    REQUIRE(answer.has_value());
    auto const& found = std::get<Identification>(*answer);
    REQUIRE(found.objects.size() == 3);
    CHECK(found.objects[0].text == "Oakenmere");
    CHECK(found.objects[2].id == 2);
    CHECK_FALSE(found.more_follows);
}

TEST_CASE("objects that do not fit one answer are announced and fetched with the next") {
    std::vector<IdentificationObject> objects = three_objects;
    objects.push_back({4, std::string(120, 'p')});
    objects.push_back({5, std::string(120, 'm')});
    ReadIdentification asked{.code = IdentificationCode::regular, .first_object = 0};
    auto const first = identification_pdu(asked, objects).value();
    CHECK(first.size() <= max_pdu_bytes);
    auto const first_part = std::get<Identification>(read_answer(first, asked).value());
    CHECK(first_part.objects.size() == 4);
    REQUIRE(first_part.more_follows);
    asked.first_object = first_part.next_object;
    auto const second =
        std::get<Identification>(read_answer(identification_pdu(asked, objects).value(), asked).value());
    REQUIRE(second.objects.size() == 1);
    CHECK(second.objects[0].text == std::string(120, 'm'));
    CHECK_FALSE(second.more_follows);
}

TEST_CASE("one object is given alone, and refused when it does not exist") {
    ReadIdentification const one{.code = IdentificationCode::one_object, .first_object = 1};
    CHECK(identification_pdu(one, three_objects, 0x81).value() ==
          hex("2B 0E 04 81 00 00 01 01 04 4F 4B 2D 33"));
    ReadIdentification const missing{.code = IdentificationCode::one_object, .first_object = 9};
    CHECK(identification_pdu(missing, three_objects).error() == ExceptionCode::illegal_data_address);
}

TEST_CASE("a stream that starts at an object which does not exist starts over") {
    ReadIdentification const asked{.code = IdentificationCode::basic, .first_object = 0x60};
    CHECK(
        std::get<Identification>(read_answer(identification_pdu(asked, three_objects).value(), asked).value())
            .objects.size() == 3);
}

TEST_CASE("an identification that breaks one rule is malformed and says which") {
    struct Broken {
        char const* change;
        char const* bytes;
        char const* said;
    };
    ReadIdentification const asked{.code = IdentificationCode::basic, .first_object = 0};
    for (auto const& broken : {
             Broken{"cut in the header", "2B 0E 01 01 00 00", "6 bytes; an identification has at least 7"},
             Broken{"another transport", "2B 0D 01 01 00 00 00",
                    "the transport type is 0x0D, asked was 0x0E"},
             Broken{"another read code", "2B 0E 02 01 00 00 00", "the read code is 2, asked was 1"},
             Broken{"more follows neither 00 nor FF", "2B 0E 01 01 01 00 00", "\"more follows\" is 0x01"},
             Broken{"an object longer than the frame", "2B 0E 01 01 00 00 01 00 05 41",
                    "the answer ends inside an object; 1 of 1 are missing"},
             Broken{"fewer objects than announced", "2B 0E 01 01 00 00 02 00 01 41",
                    "the answer ends inside an object; 1 of 2 are missing"},
             Broken{"a tail", "2B 0E 01 01 00 00 01 00 01 41 42", "1 bytes follow the last object"},
         }) {
        CAPTURE(broken.change);
        auto const answer = read_answer(hex(broken.bytes), asked);
        REQUIRE_FALSE(answer.has_value());
        CHECK(answer.error().kind == FaultKind::malformed);
        CHECK(answer.error().detail == broken.said);
    }
}

TEST_CASE("hex is read with or without spaces and refused when it is not hex") {
    CHECK(from_hex("0103 006b").value() == hex("01 03 00 6B"));
    CHECK_FALSE(from_hex("0").has_value());
    CHECK_FALSE(from_hex("0G").has_value());
    CHECK_FALSE(from_hex("0 1").has_value());
    CHECK(to_hex(hex("00 ff 7A")) == "00 FF 7A");
}

}  // namespace phasewright::codec
