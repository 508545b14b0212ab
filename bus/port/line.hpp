// A line is a way to ask: one question goes to one unit, one answer comes back, or a fault that says what
// happened instead. What carries it (TCP, a serial port) is the line's own affair.
#pragma once
#include <cstdint>
#include <expected>
#include <string>

#include "bus/codec/bytes.hpp"
#include "bus/codec/fault.hpp"
#include "bus/codec/question.hpp"

namespace phasewright::port {

class Line {
public:
    Line() = default;
    Line(Line const&) = delete;
    Line& operator=(Line const&) = delete;
    Line(Line&&) = delete;
    Line& operator=(Line&&) = delete;
    virtual ~Line() = default;

    // Sends one request PDU and waits for its response PDU. One thread at a time.
    [[nodiscard]] virtual std::expected<codec::Bytes, codec::Fault> ask(std::uint8_t unit,
                                                                        codec::BytesView question) = 0;
    [[nodiscard]] virtual std::string place() const = 0;  // "192.0.2.7:502"
    [[nodiscard]] virtual double now_s() const;           // seconds on a clock that only moves forward

    // From any thread: the wait under way ends at once with a fault of kind cancelled, and so does every later
    // question until resume().
    virtual void cancel() noexcept {}
    virtual void resume() noexcept {}
};

// At most 125 registers; `function` is read_holding_registers or read_input_registers.
[[nodiscard]] std::expected<codec::Registers, codec::Fault> read_registers(Line& line, std::uint8_t unit,
                                                                           codec::Function function,
                                                                           std::uint16_t address,
                                                                           std::uint16_t count);

[[nodiscard]] std::expected<void, codec::Fault> write_register(Line& line, std::uint8_t unit,
                                                               std::uint16_t address, std::uint16_t value);
[[nodiscard]] std::expected<void, codec::Fault> write_registers(Line& line, std::uint8_t unit,
                                                                std::uint16_t address,
                                                                codec::Registers const& values);

// All objects of the category, asked for again while more follow.
[[nodiscard]] std::expected<codec::Identification, codec::Fault> read_identification(
    Line& line, std::uint8_t unit, codec::IdentificationCode code = codec::IdentificationCode::basic);

}  // namespace phasewright::port
