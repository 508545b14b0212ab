#include "print/workbook/csv.hpp"

#include <array>
#include <charconv>
#include <map>

namespace phasewright::workbook {

namespace {
using quantity::Fault;

constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";
constexpr std::string_view formula_marks = "=+-@";

// Length of the UTF-8 sequence at the front, 0 when there is none.
std::size_t sequence_length(std::string_view text) {
    auto const lead = static_cast<unsigned char>(text.front());
    std::size_t const length = lead < 0x80 ? 1 : lead < 0xC2 ? 0 : lead < 0xE0 ? 2 : lead < 0xF0 ? 3 : lead < 0xF5 ? 4 : 0;
    if (length > text.size()) return 0;
    for (std::size_t k = 1; k < length; ++k)
        if ((static_cast<unsigned char>(text[k]) & 0xC0U) != 0x80U) return 0;
    return length;
}

std::string as_utf8(std::string_view bytes) {
    for (auto rest = bytes; !rest.empty();) {
        auto const length = sequence_length(rest);
        if (length == 0) {  // one byte a letter: U+0080 to U+00FF stand at their own numbers
            std::string text;
            for (char const letter : bytes) {
                auto const byte = static_cast<unsigned char>(letter);
                if (byte < 0x80) text += letter;
                else {
                    text += static_cast<char>(0xC0U | (byte >> 6U));
                    text += static_cast<char>(0x80U | (byte & 0x3FU));
                }
            }
            return text;
        }
        rest.remove_prefix(length);
    }
    return std::string{bytes};
}

// Walks over fields: what stands between separators, quotes taken off.
class Fields {
public:
    Fields(std::string_view text, char separator) : text_(text), separator_(separator) {}

    [[nodiscard]] bool at_end() const { return at_ >= text_.size(); }
    [[nodiscard]] std::size_t line() const { return line_; }
    [[nodiscard]] bool row_is_over() const { return row_is_over_; }
    // False where a quote never closes.
    [[nodiscard]] bool next(std::string& field) {
        field.clear();
        row_is_over_ = false;
        bool const is_quoted = !at_end() && text_[at_] == '"';
        if (is_quoted && !take_quoted(field)) return false;
        while (!at_end() && text_[at_] != separator_ && text_[at_] != '\n' && text_[at_] != '\r') field += text_[at_++];
        if (at_end()) {
            row_is_over_ = true;
        } else if (text_[at_] == separator_) {
            ++at_;
        } else {
            if (text_[at_] == '\r' && at_ + 1 < text_.size() && text_[at_ + 1] == '\n') ++at_;
            ++at_;
            ++line_;
            row_is_over_ = true;
        }
        return true;
    }

private:
    bool take_quoted(std::string& field) {
        for (++at_; !at_end(); ++at_) {
            if (text_[at_] == '\n') ++line_;
            if (text_[at_] != '"') {
                field += text_[at_];
            } else if (at_ + 1 < text_.size() && text_[at_ + 1] == '"') {
                field += '"';
                ++at_;
            } else {
                ++at_;
                return true;
            }
        }
        return false;
    }

    std::string_view text_;
    char separator_;
    std::size_t at_ = 0;
    std::size_t line_ = 1;
    bool row_is_over_ = false;
};

bool is_number(std::string_view text) {
    if (text.starts_with('+')) text.remove_prefix(1);
    double value = 0.0;
    auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    return error == std::errc{} && end == text.data() + text.size();
}

bool looks_like_a_formula(std::string_view text) {
    return !text.empty() && formula_marks.find(text.front()) != std::string_view::npos && !is_number(text);
}

Cell cell_of(std::string text) {
    if (text.starts_with('\'') && looks_like_a_formula(std::string_view{text}.substr(1))) text.erase(0, 1);
    return {.text = std::move(text)};
}

std::string field_text(Cell const& cell) {
    auto text = cell.text;
    if (!cell.is_number && looks_like_a_formula(text)) text.insert(text.begin(), '\'');
    bool const has_edges = !text.empty() && (text.front() == ' ' || text.back() == ' ');
    if (!has_edges && text.find_first_of(",;\t\"\r\n") == std::string::npos) return text;
    std::string quoted = "\"";
    for (char const letter : text) quoted += letter == '"' ? std::string{"\"\""} : std::string(1, letter);
    return quoted + "\"";
}
}  // namespace

char separator_of(std::string_view text) {
    constexpr std::array candidates{',', ';', '\t'};
    constexpr std::size_t rows_looked_at = 30;
    char best = ',';
    std::size_t best_worth = 0;
    for (char const candidate : candidates) {
        Fields fields(text.substr(0, 64U << 10U), candidate);
        std::map<std::size_t, std::size_t> rows_of_width;
        std::string field;
        std::size_t width = 0;
        for (std::size_t rows = 0; rows < rows_looked_at && !fields.at_end() && fields.next(field);) {
            ++width;
            if (!fields.row_is_over()) continue;
            ++rows_of_width[width];
            width = 0;
            ++rows;
        }
        // A width that many rows share, and a large one.
        for (auto const& [columns, rows] : rows_of_width)
            if (columns > 1 && columns * rows > best_worth) {
                best = candidate;
                best_worth = columns * rows;
            }
    }
    return best;
}

std::expected<Sheet, Fault> read_csv(std::string_view bytes, std::string const& file, Limits const& limits) {
    if (bytes.size() > limits.bytes)
        return std::unexpected(Fault{"the file is too large", file, std::to_string(bytes.size()) + " bytes",
                                     "at most " + std::to_string(limits.bytes), {}});
    if (bytes.find('\0') != std::string_view::npos)
        return std::unexpected(Fault{"the file is no text: it has a zero byte", file, {}, "CSV in UTF-8, or XLSX",
                                     "save it as CSV (UTF-8)"});
    if (bytes.starts_with(byte_order_mark)) bytes.remove_prefix(byte_order_mark.size());
    auto const text = as_utf8(bytes);
    Fields fields(text, separator_of(text));
    Sheet sheet;
    Row row;
    std::size_t cells = 0;
    std::string field;
    while (!fields.at_end()) {
        auto const line = fields.line();
        if (!fields.next(field))
            return std::unexpected(Fault{"a quote is opened and never closed", file + ":" + std::to_string(line), {},
                                         "a quote at both ends; two quotes for one inside", {}});
        row.push_back(cell_of(field));
        if (++cells > limits.cells || row.size() > limits.columns || sheet.rows.size() >= limits.rows)
            return std::unexpected(Fault{"the sheet is too large", file + ":" + std::to_string(line), {},
                                         "at most " + std::to_string(limits.rows) + " rows and " +
                                             std::to_string(limits.columns) + " columns", {}});
        if (!fields.row_is_over()) {
            if (fields.at_end()) row.emplace_back();  // the file ends behind a separator
            else continue;
        }
        sheet.rows.push_back(std::move(row));
        row.clear();
    }
    return sheet;
}

std::string write_csv(Sheet const& sheet) {
    std::string text;
    for (auto const& row : sheet.rows) {
        for (std::size_t k = 0; k < row.size(); ++k) text += (k > 0 ? "," : "") + field_text(row[k]);
        // A row of one empty field would be no row at all.
        if (row.size() == 1 && row.front().text.empty()) text += "\"\"";
        text += "\r\n";
    }
    return text;
}

}  // namespace phasewright::workbook
