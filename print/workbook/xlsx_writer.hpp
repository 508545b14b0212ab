// Writes sheets as an XLSX file: the first row of each is its header. The same sheets give the same bytes.
#pragma once
#include <expected>
#include <filesystem>
#include <vector>

#include "core/quantity/fault.hpp"
#include "print/workbook/grid.hpp"

namespace phasewright::workbook {

// The file appears under its name only when it is complete.
[[nodiscard]] std::expected<void, quantity::Fault> write_xlsx(std::vector<Sheet> const& sheets, std::filesystem::path const& file);

}  // namespace phasewright::workbook
