// Reads the cells of an XLSX file (Office Open XML, ECMA-376 Part 1, SpreadsheetML): shared and inline strings, numbers,
// booleans, the last values of formulas. A date is the number that it is kept as. Formats, formulas and macros are not
// looked at.
#pragma once
#include <expected>
#include <string>
#include <string_view>
#include <vector>

#include "core/quantity/fault.hpp"
#include "print/workbook/grid.hpp"

namespace phasewright::workbook {

[[nodiscard]] bool looks_like_xlsx(std::string_view bytes);  // it begins as a ZIP container does

// Sheets in the order of their tabs. Refused besides what zip_parts.hpp refuses: XML that is broken or declares a document
// type or entities, a cell beyond the limits, a string that is not there.
[[nodiscard]] std::expected<std::vector<Sheet>, quantity::Fault> read_xlsx(std::string_view bytes, std::string const& file,
                                                                           Limits const& limits = {});

}  // namespace phasewright::workbook
