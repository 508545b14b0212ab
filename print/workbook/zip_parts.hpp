// The parts of a ZIP container, unpacked into memory, within limits.
#pragma once
#include <expected>
#include <map>
#include <string>
#include <string_view>

#include "core/quantity/fault.hpp"
#include "print/workbook/grid.hpp"

namespace phasewright::workbook {

using Parts = std::map<std::string, std::string>;  // name to bytes

// Refused: what is no ZIP container, is broken or encrypted, has a name twice, or unpacks to more than the limits.
[[nodiscard]] std::expected<Parts, quantity::Fault> unpack(std::string_view bytes, std::string const& file, Limits const& limits);

}  // namespace phasewright::workbook
