// CSV as RFC 4180 has it, and as spreadsheets of half the world write it: separated by commas, semicolons or tabs (where a
// comma is the decimal sign, a semicolon separates), with or without a byte order mark, in UTF-8 or one byte a letter.
#pragma once
#include <expected>
#include <string>
#include <string_view>

#include "core/quantity/fault.hpp"
#include "print/workbook/grid.hpp"

namespace phasewright::workbook {

// The separator that gives the first rows the most columns, and the same number of them; a comma when none does.
[[nodiscard]] char separator_of(std::string_view text);

// `file` is only the name that faults carry. Bytes that are not UTF-8 are read as ISO 8859-1. A quote that never closes
// is a fault, and so is a zero byte.
[[nodiscard]] std::expected<Sheet, quantity::Fault> read_csv(std::string_view bytes, std::string const& file,
                                                             Limits const& limits = {});

// Commas, CR LF, quotes where they are needed. Text that a spreadsheet would take for a formula (it begins with =, +, -, @)
// and that is no number gets an apostrophe in front, which read_csv takes off again.
[[nodiscard]] std::string write_csv(Sheet const& sheet);

}  // namespace phasewright::workbook
