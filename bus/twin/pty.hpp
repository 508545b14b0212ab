// A pseudo-terminal, raw, and what can be told from its far end of how the near one was set.
#pragma once
#include <expected>
#include <string>
#include <utility>

#include "core/plan/serial_line.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::twin {

// Kept open as long as the line stands: with no open end its far one would hang up.
struct NearEnd {
    NearEnd() = default;
    NearEnd(std::string name, int open_descriptor) : device(std::move(name)), descriptor(open_descriptor) {}
    NearEnd(NearEnd&& other) noexcept
        : device(std::move(other.device)), descriptor(std::exchange(other.descriptor, -1)) {}
    NearEnd& operator=(NearEnd&& other) noexcept {
        std::swap(device, other.device);
        std::swap(descriptor, other.descriptor);
        return *this;
    }
    NearEnd(NearEnd const&) = delete;
    NearEnd& operator=(NearEnd const&) = delete;
    ~NearEnd();

    std::string device;  // "/dev/pts/7"
    int descriptor = -1;
};
struct Pty {
    int master = -1;  // the caller's to close
    NearEnd near_end;
};
[[nodiscard]] std::expected<Pty, quantity::Fault> open_pty();

// The bit rate, the stop bits (two: no parity) and the odd flag are all that a pty keeps of what a client
// asked for. What is left of 8N1 is the same as of 8E1: where it is also what would be left of the planned
// format, it is that.
[[nodiscard]] plan::SerialFormat format_on(int master, plan::SerialFormat const& planned);

}  // namespace phasewright::twin
