#include "bus/codec/question.hpp"

#include <doctest/doctest.h>

#include "bus/codec/hex_in_tests.hpp"

namespace phasewright::codec {

namespace {
ReadRegisters const registers_108_to_110{
    .function = Function::read_holding_registers, .address = 0x006B, .count = 3};

std::string bad_question(Question const& question) {
    auto const pdu = question_pdu(question);
    REQUIRE_FALSE(pdu.has_value());
    CHECK(pdu.error().kind == FaultKind::bad_question);
    return pdu.error().detail;
}
}  // namespace

TEST_CASE("the standard's example reads registers 108 to 110 as 555, 0 and 100") {
    // MODBUS Application Protocol V1.1b3, clause 6.3.
    CHECK(question_pdu(registers_108_to_110).value() == hex("03 00 6B 00 03"));
    auto const answer = read_answer(hex("03 06 02 2B 00 00 00 64"), registers_108_to_110);
    REQUIRE(answer.has_value());
    CHECK(std::get<Registers>(*answer) == Registers{555, 0, 100});
    CHECK(parse_question(hex("03 00 6B 00 03")).value() == Question{registers_108_to_110});
    CHECK(registers_pdu(registers_108_to_110, Registers{555, 0, 100}) == hex("03 06 02 2B 00 00 00 64"));
}

TEST_CASE("an input register is read with function 4") {
    // The question part of the frame 01 04 00 08 00 01 B0 08 (rtu_frame_test.cpp); the value 10 is ours.
    ReadRegisters const asked{.function = Function::read_input_registers, .address = 8, .count = 1};
    CHECK(question_pdu(asked).value() == hex("04 00 08 00 01"));
    CHECK(std::get<Registers>(read_answer(hex("04 02 00 0A"), asked).value()) == Registers{10});
}

TEST_CASE("the standard's example writes 10 and 0x0102 to registers 2 and 3") {
    // MODBUS Application Protocol V1.1b3, clause 6.12.
    WriteRegisters const asked{.address = 1, .values = {0x000A, 0x0102}};
    CHECK(question_pdu(asked).value() == hex("10 00 01 00 02 04 00 0A 01 02"));
    CHECK(parse_question(hex("10 00 01 00 02 04 00 0A 01 02")).value() == Question{asked});
    CHECK(written_pdu(asked) == hex("10 00 01 00 02"));
    CHECK(std::holds_alternative<Written>(read_answer(hex("10 00 01 00 02"), asked).value()));
    CHECK(read_answer(hex("10 00 01 00 03"), asked).error().detail ==
          "the echo is 10 00 01 00 03, expected was 10 00 01 00 02");
}

TEST_CASE("a single write is echoed whole") {
    // Clause 6.6: the normal response is an echo of the request.
    WriteRegister const asked{.address = 1, .value = 3};
    CHECK(question_pdu(asked).value() == hex("06 00 01 00 03"));
    CHECK(parse_question(hex("06 00 01 00 03")).value() == Question{asked});
    CHECK(std::holds_alternative<Written>(read_answer(hex("06 00 01 00 03"), asked).value()));
    CHECK(read_answer(hex("06 00 01 00 04"), asked).error().kind == FaultKind::malformed);
}

TEST_CASE("a refusal carries the device's reason, named or not") {
    auto const refused = read_answer(hex("83 02"), registers_108_to_110);
    REQUIRE_FALSE(refused.has_value());
    CHECK(refused.error().kind == FaultKind::refused);
    CHECK(refused.error().exception == 2);
    CHECK(words_of(*exception_of(2)) == "illegal data address");
    CHECK(read_answer(hex("83 42"), registers_108_to_110).error().exception == 0x42);
    CHECK_FALSE(exception_of(0x42).has_value());
    CHECK_FALSE(exception_of(0x07).has_value());  // not in clause 7's table
    // Clause 6.1's refused coil: 0x81 0x02.
    CHECK(exception_pdu(0x01, ExceptionCode::illegal_data_address) == hex("81 02"));
}

TEST_CASE("an answer that breaks one rule is malformed and says which") {
    struct Broken {
        char const* change;
        char const* bytes;
        char const* said;
    };
    for (auto const& broken : {
             Broken{"nothing", "", "the answer is empty"},
             Broken{"another function", "04 06 02 2B 00 00 00 64", "function 0x03 was asked, 0x04 answered"},
             Broken{"an exception to another function", "84 02", "function 0x03 was asked, 0x84 answered"},
             Broken{"byte count missing", "03", "the byte count is missing"},
             Broken{"byte count too small", "03 04 02 2B 00 00 00 64",
                    "the byte count is 4; 3 registers have 6"},
             Broken{"byte count odd", "03 05 02 2B 00 00 00 64", "the byte count is 5; 3 registers have 6"},
             Broken{"data cut short", "03 06 02 2B 00 00 00", "5 data bytes came, 6 are announced"},
             Broken{"a byte too many", "03 06 02 2B 00 00 00 64 00", "7 data bytes came, 6 are announced"},
             Broken{"an exception without its code", "83", "an exception has 2 bytes, 1 came"},
             Broken{"an exception with a tail", "83 02 00", "an exception has 2 bytes, 3 came"},
         }) {
        CAPTURE(broken.change);
        auto const answer = read_answer(hex(broken.bytes), registers_108_to_110);
        REQUIRE_FALSE(answer.has_value());
        CHECK(answer.error().kind == FaultKind::malformed);
        CHECK(answer.error().detail == broken.said);
    }
}

TEST_CASE("a question beyond the standard's limits is not sent") {
    // Limits: clauses 6.3, 6.4 and 6.12 (125 read, 123 written).
    CHECK(bad_question(ReadRegisters{.address = 0, .count = 0}) == "0 registers; allowed are 1 to 125");
    CHECK(bad_question(ReadRegisters{.address = 0, .count = 126}) == "126 registers; allowed are 1 to 125");
    CHECK(bad_question(ReadRegisters{.address = 0xFFFF, .count = 2}) ==
          "2 registers from 65535 on; the last is 65535");
    CHECK(bad_question(ReadRegisters{.function = Function::write_single_register}) ==
          "registers are read with function 3 or 4");
    CHECK(bad_question(WriteRegisters{.address = 0, .values = Registers(124, 0)}) ==
          "124 registers; allowed are 1 to 123");
    CHECK(question_pdu(ReadRegisters{.address = 0xFFFF, .count = 1}).has_value());
    CHECK(question_pdu(WriteRegisters{.address = 0, .values = Registers(123, 0)}).value().size() <=
          max_pdu_bytes);
}

TEST_CASE("a device answers a question that breaks a rule with the standard's exception") {
    // The state diagrams of clauses 6.3, 6.6 and 6.12: function, then count and length (03), then address
    // (02).
    struct Broken {
        char const* change;
        char const* bytes;
        ExceptionCode reason;
    };
    using enum ExceptionCode;
    for (auto const& broken : {
             Broken{"a function that is not offered", "01 04 A1 00 01", illegal_function},
             Broken{"a function with the exception bit", "83 00 6B 00 03", illegal_function},
             Broken{"nothing", "", illegal_function},
             Broken{"a byte missing", "03 00 6B 00", illegal_data_value},
             Broken{"a byte too many", "03 00 6B 00 03 00", illegal_data_value},
             Broken{"no register", "03 00 6B 00 00", illegal_data_value},
             Broken{"126 registers", "03 00 6B 00 7E", illegal_data_value},
             Broken{"past the last address", "03 FF FF 00 02", illegal_data_address},
             Broken{"a write without its value", "06 00 01", illegal_data_value},
             Broken{"a write of nothing", "10 00 01 00 00 00", illegal_data_value},
             Broken{"a wrong byte count", "10 00 01 00 02 03 00 0A 01 02", illegal_data_value},
             Broken{"values cut short", "10 00 01 00 02 04 00 0A 01", illegal_data_value},
             Broken{"a write past the last address", "10 FF FF 00 02 04 00 0A 01 02", illegal_data_address},
             Broken{"another encapsulated transport", "2B 0D 01 00", illegal_function},
             Broken{"read code 5", "2B 0E 05 00", illegal_data_value},
             Broken{"an identification cut short", "2B 0E 01", illegal_data_value},
         }) {
        CAPTURE(broken.change);
        auto const parsed = parse_question(hex(broken.bytes));
        REQUIRE_FALSE(parsed.has_value());
        CHECK(parsed.error() == broken.reason);
    }
}

TEST_CASE("a finding says where, what happened and what to try next") {
    Fault const fault{
        .kind = FaultKind::refused, .detail = {}, .exception = 2, .where = "127.0.0.1:502 unit 3"};
    CHECK(to_finding(fault) ==
          "127.0.0.1:502 unit 3: the meter understood the question and refused it (exception 0x02, illegal "
          "data "
          "address). Next: compare the profile's addresses with the meter's own register table; an offset of "
          "one is "
          "common.");
    CHECK(to_finding({.kind = FaultKind::refused, .detail = {}, .exception = 0x42}) ==
          "the meter understood the question and refused it (exception 0x42, not named by the standard). "
          "Next: look "
          "the code up in the meter's own documents.");
    CHECK(to_finding({.kind = FaultKind::closed, .detail = "5 of 9 bytes came"}) ==
          "the connection was closed before the answer was whole; 5 of 9 bytes came. Next: see whether the "
          "device "
          "takes only a few clients at once, then ask again.");
}

}  // namespace phasewright::codec
