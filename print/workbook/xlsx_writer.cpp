#include "print/workbook/xlsx_writer.hpp"

#include <xlsxwriter.h>

#include <algorithm>
#include <charconv>
#include <fstream>
#include <optional>
#include <system_error>

namespace phasewright::workbook {

namespace {
using quantity::Fault;

constexpr std::size_t narrowest = 8;
constexpr std::size_t widest = 40;
constexpr std::time_t always_the_same = 1'577'836'800;  // 2020-01-01: a date of today would change the bytes

std::optional<double> number_of(Cell const& cell) {
    if (!cell.is_number) return std::nullopt;
    double value = 0.0;
    auto const [end, error] = std::from_chars(cell.text.data(), cell.text.data() + cell.text.size(), value);
    if (error != std::errc{} || end != cell.text.data() + cell.text.size()) return std::nullopt;
    return value;
}

std::size_t width_of(Sheet const& sheet, std::size_t column) {
    std::size_t width = narrowest;
    for (auto const& row : sheet.rows) width = std::max(width, text_at(row, column).size() + 2);
    return std::min(width, widest);
}

lxw_error fill(lxw_worksheet* to, Sheet const& sheet, lxw_format* header) {
    std::size_t columns = 0;
    for (std::size_t at = 0; at < sheet.rows.size(); ++at) {
        auto const& row = sheet.rows[at];
        columns = std::max(columns, row.size());
        for (std::size_t k = 0; k < row.size(); ++k) {
            if (row[k].text.empty()) continue;
            auto const r = static_cast<lxw_row_t>(at);
            auto const c = static_cast<lxw_col_t>(k);
            auto const number = number_of(row[k]);
            auto const error = number ? worksheet_write_number(to, r, c, *number, nullptr)
                                      : worksheet_write_string(to, r, c, row[k].text.c_str(), at == 0 ? header : nullptr);
            if (error != LXW_NO_ERROR) return error;
        }
    }
    for (std::size_t k = 0; k < columns; ++k) {
        auto const c = static_cast<lxw_col_t>(k);
        worksheet_set_column(to, c, c, static_cast<double>(width_of(sheet, k)), nullptr);
    }
    worksheet_freeze_panes(to, 1, 0);
    return LXW_NO_ERROR;
}
}  // namespace

std::expected<void, Fault> write_xlsx(std::vector<Sheet> const& sheets, std::filesystem::path const& file) {
    auto const part = std::filesystem::path(file.string() + ".part");
    auto const refused = [&](std::string const& why) {
        std::error_code none;
        std::filesystem::remove(part, none);
        return std::unexpected(Fault{"the spreadsheet cannot be written", file.string(), why, {}, "look at its folder and your rights"});
    };
    // The library tells such a fault on the error stream, where it is not wanted.
    if (!std::ofstream(part, std::ios::binary)) return refused("the file cannot be opened");
    auto* const book = workbook_new(part.c_str());
    if (book == nullptr) return refused("no memory");
    lxw_doc_properties properties{};
    properties.created = always_the_same;
    workbook_set_properties(book, &properties);
    auto* const header = workbook_add_format(book);
    format_set_bold(header);
    lxw_error error = LXW_NO_ERROR;
    for (auto const& sheet : sheets) {
        auto* const to = workbook_add_worksheet(book, sheet.name.empty() ? nullptr : sheet.name.c_str());
        if (to == nullptr) error = LXW_ERROR_SHEETNAME_LENGTH_EXCEEDED;
        else if (auto const filled = fill(to, sheet, header); filled != LXW_NO_ERROR) error = filled;
    }
    auto const closed = workbook_close(book);
    if (error == LXW_NO_ERROR) error = closed;
    if (error != LXW_NO_ERROR) return refused(lxw_strerror(error));
    std::error_code moved;
    std::filesystem::rename(part, file, moved);
    if (moved) return refused(moved.message());
    return {};
}

}  // namespace phasewright::workbook
