// Reads the file that docs/reference/twin.md describes, against the plan whose meters it wires.
#pragma once
#include <expected>
#include <string_view>

#include "bus/twin/wired.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::twin {

[[nodiscard]] std::expected<WiredSite, quantity::Fault> read_wired(std::string_view text,
                                                                   std::string const& file,
                                                                   plan::Site const& site);

// A point wired exactly as its plan says, with nothing connected to it yet.
[[nodiscard]] WiredPoint as_planned(plan::MeteringPoint const& point);

}  // namespace phasewright::twin
