#include "print/workbook/grid.hpp"

#include <algorithm>

namespace phasewright::workbook {

std::string column_name(std::size_t column) {
    std::string name;
    for (++column; column > 0; column = (column - 1) / 26) name.insert(name.begin(), static_cast<char>('A' + (column - 1) % 26));
    return name;
}

std::string cell_name(std::size_t row, std::size_t column) { return column_name(column) + std::to_string(row + 1); }

std::string const& text_at(Row const& row, std::size_t column) {
    static std::string const nothing;
    return column < row.size() ? row[column].text : nothing;
}

bool is_empty(Row const& row) {
    return std::ranges::all_of(row, [](Cell const& cell) { return cell.text.find_first_not_of(" \t") == std::string::npos; });
}

}  // namespace phasewright::workbook
