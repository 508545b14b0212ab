// A Modbus conversation is a question (request PDU) and an answer (response PDU): one function byte and its
// data, the same on every carrier. This file knows five functions, for both sides: the client builds
// questions and judges answers, the server parses questions and builds answers.
// Source: MODBUS Application Protocol Specification V1.1b3, clauses 6.3, 6.4, 6.6, 6.12 and 6.21. Addresses
// are those on the wire, counted from zero: "register 40108" in a maker's table is wire address 107.
#pragma once
#include <cstdint>
#include <expected>
#include <string>
#include <variant>
#include <vector>

#include "bus/codec/bytes.hpp"
#include "bus/codec/fault.hpp"

namespace phasewright::codec {

inline constexpr std::size_t max_pdu_bytes = 253;
inline constexpr unsigned max_read_registers = 125;
inline constexpr unsigned max_write_registers = 123;

enum class Function : std::uint8_t {
    read_holding_registers = 0x03,
    read_input_registers = 0x04,
    write_single_register = 0x06,
    write_multiple_registers = 0x10,
    read_device_identification = 0x2B,  // with the transport type 0x0E
};

struct ReadRegisters {
    Function function = Function::read_holding_registers;  // or read_input_registers
    std::uint16_t address = 0;
    std::uint16_t count = 1;
    friend bool operator==(ReadRegisters const&, ReadRegisters const&) = default;
};
struct WriteRegister {
    std::uint16_t address = 0;
    std::uint16_t value = 0;
    friend bool operator==(WriteRegister const&, WriteRegister const&) = default;
};
struct WriteRegisters {
    std::uint16_t address = 0;
    Registers values;
    friend bool operator==(WriteRegisters const&, WriteRegisters const&) = default;
};
enum class IdentificationCode : std::uint8_t { basic = 1, regular = 2, extended = 3, one_object = 4 };
struct ReadIdentification {
    IdentificationCode code = IdentificationCode::basic;
    std::uint8_t first_object = 0;  // where the stream starts, or the one object
    friend bool operator==(ReadIdentification const&, ReadIdentification const&) = default;
};
using Question = std::variant<ReadRegisters, WriteRegister, WriteRegisters, ReadIdentification>;

struct Written {};  // the device echoed the write that was asked for
struct IdentificationObject {
    // 0 vendor, 1 product code, 2 revision, 3 vendor URL, 4 product name, 5 model name, 6 application name
    std::uint8_t id = 0;
    std::string text;
};
struct Identification {
    std::uint8_t conformity = 0x01;
    bool more_follows = false;
    std::uint8_t next_object = 0;
    std::vector<IdentificationObject> objects;
};
using Answer = std::variant<Registers, Written, Identification>;

[[nodiscard]] Function function_of(Question const& question);
[[nodiscard]] bool only_reads(BytesView question_pdu);  // false for every function that is not known to change nothing

// The client's side. Building a question that breaks the limits is a fault of kind bad_question.
[[nodiscard]] std::expected<Bytes, Fault> question_pdu(Question const& question);
[[nodiscard]] std::expected<Answer, Fault> read_answer(BytesView pdu, Question const& asked);

// The server's side: what cannot be parsed is to be answered with that exception. `identification_pdu` lays
// out as many objects from `first_object` on as fit one PDU.
[[nodiscard]] std::expected<Question, ExceptionCode> parse_question(BytesView pdu);
[[nodiscard]] Bytes registers_pdu(ReadRegisters const& asked, std::span<std::uint16_t const> values);
[[nodiscard]] Bytes written_pdu(WriteRegister const& asked);
[[nodiscard]] Bytes written_pdu(WriteRegisters const& asked);
[[nodiscard]] std::expected<Bytes, ExceptionCode> identification_pdu(
    ReadIdentification const& asked, std::vector<IdentificationObject> const& objects,
    std::uint8_t conformity = 0x81);
[[nodiscard]] Bytes exception_pdu(std::uint8_t function, ExceptionCode code);

}  // namespace phasewright::codec
