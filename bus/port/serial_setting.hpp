// Speed, parity and stop bits of a serial port through the kernel's termios2, which takes any bit rate. A driver may
// take less than it was told (a speed its divisor cannot make, a parity its chip has not): what it really took is read
// back and compared.
// A pseudo-terminal has no wire: it clears the parity bit and keeps the rest as a note. That is no fault.
// Source: tolerance of the bit rate at the receiver, 2 % (MODBUS over Serial Line V1.02, clause 3.2).
#pragma once
#include <optional>
#include <string>

#include "core/plan/serial_line.hpp"

namespace phasewright::port {

struct PortTook {
    int bit_rate = 0;
    plan::Parity parity = plan::Parity::none;
    int stop_bits = 1;
    bool eight_bits = true;
};

// "speed 250000 bit/s instead of 115200, parity none instead of even"; empty when all is as asked.
[[nodiscard]] std::optional<std::string> refused_by_port(plan::SerialFormat const& asked, PortTook const& took);

// The rest is system calls. An error is a number of errno; 0 is none.
[[nodiscard]] int set_raw(int descriptor, plan::SerialFormat const& format);
[[nodiscard]] int read_back(int descriptor, PortTook& took);
[[nodiscard]] bool is_pseudo_terminal(int descriptor);

}  // namespace phasewright::port
