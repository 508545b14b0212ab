// A spreadsheet as a value: sheets of cells that are text or numbers, without formulas, formats and colours. It stands
// between files (CSV, XLSX) and those who know what the columns mean.
#pragma once
#include <cstddef>
#include <string>
#include <vector>

namespace phasewright::workbook {

struct Cell {
    std::string text;        // a number in its shortest form with a full stop: "0.333"
    bool is_number = false;  // the file said so; a CSV file never does
    friend bool operator==(Cell const&, Cell const&) = default;
};

using Row = std::vector<Cell>;  // may be shorter than others

struct Sheet {
    std::string name;  // empty in a CSV file
    std::vector<Row> rows;
    friend bool operator==(Sheet const&, Sheet const&) = default;
};

// What is read at most. A file beyond it is refused before it fills the memory: a small XLSX can unpack to anything.
struct Limits {
    std::size_t bytes = 64U << 20U;       // of the file, and of all its parts unpacked
    std::size_t part_bytes = 32U << 20U;  // of one part unpacked
    std::size_t parts = 2000;
    std::size_t rows = 100'000;   // of a sheet
    std::size_t columns = 1'000;  // of a row
    std::size_t cells = 2'000'000;
};

[[nodiscard]] std::string column_name(std::size_t column);                    // from 0: "A", "Z", "AA"
[[nodiscard]] std::string cell_name(std::size_t row, std::size_t column);     // from 0: "B7"
[[nodiscard]] std::string const& text_at(Row const& row, std::size_t column);  // empty beyond its end
[[nodiscard]] bool is_empty(Row const& row);

}  // namespace phasewright::workbook
