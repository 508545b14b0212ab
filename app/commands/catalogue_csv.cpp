// A list of current transformers as CSV (docs/reference/catalogue.md, "CSV").
#include <algorithm>
#include <charconv>
#include <cmath>
#include <map>
#include <set>

#include "app/commands/catalogue_file.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::commands {

namespace {
using quantity::Fault;

std::vector<std::string> const& known_columns() {
    static std::vector<std::string> const columns{"model",      "maker",        "primary_a", "secondary",
                                                  "output",     "class",        "burden_va", "most_percent",
                                                  "window_mm",  "core",         "shorting",  "highest_v",
                                                  "source_ohm", "compliance_v", "rated_hz",  "own_lead_m"};
    return columns;
}

std::string trimmed(std::string_view text) {
    auto const is_blank = [](char c) { return c == ' ' || c == '\t' || c == '\r'; };
    while (!text.empty() && is_blank(text.front())) text.remove_prefix(1);
    while (!text.empty() && is_blank(text.back())) text.remove_suffix(1);
    return std::string{text};
}

struct Row {
    int line = 0;
    std::vector<std::string> cells;
};

// RFC 4180 with either separator; quoted text may hold an end of line.
std::expected<std::vector<Row>, Fault> rows_of(std::string_view text, char separator,
                                               std::string const& file) {
    std::vector<Row> rows;
    Row row{.line = 1, .cells = {}};
    std::string cell;
    bool quoted = false;
    bool was_quoted = false;
    int line = 1;
    auto const end_cell = [&] {
        row.cells.push_back(was_quoted ? cell : trimmed(cell));
        cell.clear();
        was_quoted = false;
    };
    auto const end_row = [&] {
        end_cell();
        if (std::ranges::any_of(row.cells, [](std::string const& one) { return !one.empty(); }))
            rows.push_back(row);
        row = {.line = line, .cells = {}};
    };
    for (std::size_t k = 0; k < text.size(); ++k) {
        char const c = text[k];
        if (c == '\n') ++line;
        bool const is_blank_after = was_quoted && (c == ' ' || c == '\r');
        if (quoted) {
            if (c != '"')
                cell += c;
            else if (k + 1 < text.size() && text[k + 1] == '"')
                cell += text[++k];
            else
                quoted = false;
        } else if (c == '"' && trimmed(cell).empty()) {
            cell.clear();
            quoted = was_quoted = true;
        } else if (c == separator) {
            end_cell();
        } else if (c == '\n') {
            end_row();
        } else if (!is_blank_after) {
            cell += c;
        }
    }
    if (quoted)
        return std::unexpected(Fault{
            "a quotation mark is not closed", file + ":" + std::to_string(row.line), {}, "a closing \"", {}});
    end_row();
    return rows;
}

// The cells of one row by their column, and the first mistake in them.
class Cells {
public:
    Cells(std::map<std::string, std::size_t> const& columns, Row const& row, char decimal,
          std::string const& file)
        : columns_(columns), row_(row), decimal_(decimal), file_(file) {}

    [[nodiscard]] std::string text(std::string const& column) const {
        auto const at = columns_.find(column);
        return at == columns_.end() || at->second >= row_.cells.size() ? std::string{}
                                                                       : row_.cells[at->second];
    }
    std::optional<double> number(std::string const& column, double least, double most = 1e9) {
        auto const cell = text(column);
        if (cell.empty()) return std::nullopt;
        return number_in(cell, column, least, most);
    }
    double needed(std::string const& column, double least) {
        if (text(column).empty()) refuse(column, "the cell is empty", "a number");
        return number(column, least).value_or(1.0);
    }
    template <plan::HasWords Enum>
    std::optional<Enum> word(std::string const& column) {
        auto const cell = text(column);
        if (cell.empty()) return std::nullopt;
        auto const value = plan::meant_by<Enum>(cell);
        if (!value) refuse(column, "the word is not known", quantity::joined(plan::words_for<Enum>(), ", "));
        return value;
    }
    std::optional<plan::Window> window() {
        auto const cell = text("window_mm");
        if (cell.empty()) return std::nullopt;
        auto const by = cell.find_first_of("xX");
        auto const width = number_in(cell.substr(0, by), "window_mm", 0.0, 2000.0);
        if (by == std::string::npos) return plan::Window{width.value_or(1.0), width.value_or(1.0), true};
        auto const height = number_in(cell.substr(by + 1), "window_mm", 0.0, 2000.0);
        return plan::Window{width.value_or(1.0), height.value_or(1.0), false};
    }
    void refuse(std::string const& column, std::string what, std::string allowed) {
        if (!fault_)
            fault_ = Fault{std::move(what),
                           file_ + ":" + std::to_string(row_.line) + " " + column,
                           "\"" + text(column) + "\"",
                           std::move(allowed),
                           {}};
    }
    [[nodiscard]] std::optional<Fault> const& fault() const { return fault_; }

private:
    std::optional<double> number_in(std::string const& cell, std::string const& column, double least,
                                    double most) {
        auto plain = trimmed(cell);
        std::ranges::replace(plain, decimal_, '.');
        double value = 0.0;
        auto const [end, error] = std::from_chars(plain.data(), plain.data() + plain.size(), value);
        if (plain.empty() || error != std::errc{} || end != plain.data() + plain.size() ||
            !std::isfinite(value) || value <= least || value > most) {
            refuse(column, "this is no number that may stand here",
                   "a number above " + quantity::shortest(least));
            return std::nullopt;
        }
        return value;
    }

    std::map<std::string, std::size_t> const& columns_;
    Row const& row_;
    char decimal_;
    std::string const& file_;
    std::optional<Fault> fault_;
};

std::expected<design::CtOffer, Fault> offer_in(Cells cells) {
    design::CtOffer offer;
    offer.maker = cells.text("maker");
    offer.ct.model = cells.text("model");
    if (offer.ct.model.empty()) cells.refuse("model", "the cell is empty", "a name");
    offer.ct.ratio = {cells.needed("primary_a", 0.0), cells.needed("secondary", 0.0)};
    if (offer.ct.ratio.primary <= offer.ct.ratio.secondary)
        cells.refuse("primary_a", "the primary is not greater than the secondary", "primary above secondary");
    if (cells.text("output").empty()) cells.refuse("output", "the cell is empty", "5A, 1A, mV, mA, coil");
    offer.ct.output = cells.word<plan::CtOutput>("output").value_or(plan::CtOutput::unknown);
    offer.ct.accuracy_class = cells.text("class");
    std::ranges::replace(offer.ct.accuracy_class, ',', '.');
    offer.ct.burden_va = cells.number("burden_va", 0.0);
    offer.ct.most_percent = cells.number("most_percent", 99.0, 1000.0);
    offer.ct.window = cells.window();
    offer.ct.shorting = cells.word<plan::Shorting>("shorting");
    offer.core = cells.word<design::Core>("core");
    offer.highest_v = cells.number("highest_v", 0.0);
    offer.source_ohm = cells.number("source_ohm", -1e-9);
    offer.compliance_v = cells.number("compliance_v", 0.0);
    offer.rated_hz = cells.number("rated_hz", 0.0);
    offer.own_lead_m = cells.number("own_lead_m", -1e-9);
    if (cells.fault()) return std::unexpected(*cells.fault());
    return offer;
}

std::expected<std::map<std::string, std::size_t>, Fault> columns_of(Row const& head,
                                                                    std::string const& file) {
    std::map<std::string, std::size_t> columns;
    auto const where = file + ":" + std::to_string(head.line);
    for (std::size_t k = 0; k < head.cells.size(); ++k) {
        auto const& name = head.cells[k];
        if (name.empty()) continue;
        if (std::ranges::find(known_columns(), name) == known_columns().end())
            return std::unexpected(Fault{
                "the column is not known", where, "\"" + name + "\"", quantity::joined(known_columns(), ", "),
                "did you mean \"" + quantity::nearest_word(name, known_columns()) + "\"?"});
        if (!columns.emplace(name, k).second)
            return std::unexpected(
                Fault{"the column stands there twice", where, "\"" + name + "\"", "each once", {}});
    }
    for (auto const* needed : {"model", "primary_a", "secondary", "output"})
        if (!columns.contains(needed))
            return std::unexpected(Fault{"a column is missing", where, {}, needed, {}});
    return columns;
}
}  // namespace

std::expected<std::vector<design::CtOffer>, Fault> read_ct_list(std::string_view text,
                                                                std::string const& file) {
    if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
    auto const first = text.substr(0, text.find('\n'));
    char const separator = std::ranges::count(first, ';') > std::ranges::count(first, ',') ? ';' : ',';
    auto const rows = rows_of(text, separator, file);
    if (!rows) return std::unexpected(rows.error());
    if (rows->empty())
        return std::unexpected(
            Fault{"the list is empty", file, {}, "a line of column names, then a line for each", {}});
    auto const columns = columns_of(rows->front(), file);
    if (!columns) return std::unexpected(columns.error());
    std::vector<design::CtOffer> offers;
    std::set<std::string> models;
    for (std::size_t k = 1; k < rows->size(); ++k) {
        auto const& row = (*rows)[k];
        auto offer = offer_in(Cells(*columns, row, separator == ';' ? ',' : '.', file));
        if (!offer) return std::unexpected(offer.error());
        if (!models.insert(offer->ct.model).second)
            return std::unexpected(Fault{"the model has been used before",
                                         file + ":" + std::to_string(row.line) + " model",
                                         "\"" + offer->ct.model + "\"",
                                         "another model for each",
                                         {}});
        offers.push_back(std::move(*offer));
    }
    return offers;
}

}  // namespace phasewright::commands
