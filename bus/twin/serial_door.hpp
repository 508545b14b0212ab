// A virtual serial line as a pseudo-terminal: the program under test opens its near end as it would an
// adapter's port. A pty has no speed, so the door takes the line's time itself: a question counts as heard
// once its characters would have passed, and what comes back is handed on character by character. A pty knows
// no parity either; which format the client chose is read from what is left of it (pty.hpp).
#pragma once
#include <expected>
#include <memory>
#include <string>

#include "bus/twin/building.hpp"
#include "core/quantity/fault.hpp"

namespace asio {
// NOLINTNEXTLINE(readability-identifier-naming)
class io_context;  // asio names its own
}  // namespace asio

namespace phasewright::twin {

class SerialDoor {
public:
    // `clock` must outlive the door.
    [[nodiscard]] static std::expected<std::unique_ptr<SerialDoor>, quantity::Fault> open(
        asio::io_context& io, BusLine line, Clock const& clock);
    SerialDoor(SerialDoor const&) = delete;
    SerialDoor& operator=(SerialDoor const&) = delete;
    SerialDoor(SerialDoor&&) = delete;
    SerialDoor& operator=(SerialDoor&&) = delete;
    ~SerialDoor();

    [[nodiscard]] std::string const& device() const;  // "/dev/pts/7"
    [[nodiscard]] BusLine& line();                    // on the thread that runs `io`

private:
    struct State;
    explicit SerialDoor(std::unique_ptr<State> state);
    std::unique_ptr<State> state_;
};

}  // namespace phasewright::twin
