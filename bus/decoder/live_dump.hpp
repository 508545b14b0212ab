// A run of registers read from a meter, around what it refuses. Reads only; nothing is written.
#pragma once
#include <expected>
#include <functional>

#include "bus/decoder/register_dump.hpp"
#include "bus/port/line.hpp"

namespace phasewright::decoder {

struct RunAsked {
    codec::Function function = codec::Function::read_holding_registers;
    std::uint16_t from = 0;
    unsigned count = 1;      // registers; the run ends at 65535 at the latest
    unsigned longest = 125;  // registers in one question
};
struct RunRead {
    profile::RegisterImage image;
    unsigned refused = 0;    // registers that the meter refused, or that were passed over among refused ones
    unsigned questions = 0;
    std::optional<codec::Fault> stopped;  // silence, or a line that broke: what was read until then is in the image
};

// `progress` is told how many of the registers are behind; it may end the reading by answering false.
[[nodiscard]] RunRead read_run(port::Line& line, std::uint8_t unit, RunAsked const& asked,
                               std::function<bool(unsigned)> const& progress = {});

}  // namespace phasewright::decoder
