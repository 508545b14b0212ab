// The live side of phasewright decode: one or several dumps over a line, which is only ever read.
#pragma once
#include <expected>
#include <iosfwd>
#include <vector>

#include "app/commands/decode_command.hpp"
#include "bus/decoder/register_dump.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

// What was refused or cut short is told to `err`; at least one register was read.
[[nodiscard]] std::expected<std::vector<decoder::Dump>, quantity::Fault> read_dumps_live(DecodeOptions const& options,
                                                                                         std::ostream& err);

}  // namespace phasewright::commands
