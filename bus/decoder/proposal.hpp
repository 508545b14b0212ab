// A decoding as a profile that loads (docs/reference/profile.md). What a register dump cannot say is left to a person,
// and marked: the meter's name, the words beside its terminals, signs.
#pragma once
#include <expected>
#include <string>

#include "bus/decoder/bench.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::decoder {

// A fault when no voltages and currents were found: a profile needs both.
[[nodiscard]] std::expected<std::string, quantity::Fault> proposed_profile(Decoding const& decoding,
                                                                           Expected const& expected,
                                                                           std::span<Dump const> dumps);

}  // namespace phasewright::decoder
