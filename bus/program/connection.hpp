// The way to a meter that is programmed: a line that can be opened again with another format, because a meter
// whose bit rate was written answers at the new one. It also counts what came that was no clean answer: two
// devices at one address give themselves away by garbage.
#pragma once
#include <expected>
#include <optional>

#include "bus/codec/fault.hpp"
#include "bus/port/line.hpp"
#include "bus/port/rtu_line.hpp"
#include "core/plan/serial_line.hpp"

namespace phasewright::program {

class Connection {
public:
    Connection() = default;
    Connection(Connection const&) = delete;
    Connection& operator=(Connection const&) = delete;
    Connection(Connection&&) = delete;
    Connection& operator=(Connection&&) = delete;
    virtual ~Connection() = default;

    [[nodiscard]] virtual port::Line& line() = 0;
    [[nodiscard]] virtual std::optional<plan::SerialFormat> format() const = 0;  // empty over TCP
    // Over TCP a fault of kind not_offered.
    [[nodiscard]] virtual std::expected<void, codec::Fault> reopen(plan::SerialFormat const& format) = 0;
    // Tries since the beginning that brought something else than one clean answer or silence.
    [[nodiscard]] virtual std::size_t strange() const = 0;
};

// One try on a serial line brought more than one clean answer, or something that is none.
[[nodiscard]] bool is_strange(port::Exchange const& exchange);

}  // namespace phasewright::program
