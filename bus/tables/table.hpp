// Reads a TOML text field by field, for files that people write: every mistake says file, line, field, what
// was found and what is allowed, and an unknown field names the nearest known one. A reader asks for what it
// wants as if all were well; the first mistake is kept, and whoever opened the document asks for it once at
// the end.
#pragma once
#include <expected>
#include <limits>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/quantity/fault.hpp"

namespace phasewright::tables {

struct Range {
    double least = -std::numeric_limits<double>::infinity();
    double most = std::numeric_limits<double>::infinity();
    bool above_least = false;  // `least` itself is not allowed
};

struct DocumentState;  // the parsed text and its first fault

class Table {
public:
    // A syntax error is a fault of the document. The root table's path is empty.
    [[nodiscard]] static std::expected<Table, quantity::Fault> parse(std::string_view text,
                                                                     std::string const& file);

    // The first mistake that any table of this document met.
    [[nodiscard]] std::optional<quantity::Fault> fault() const;
    // Refuses a field (or, for a field that is not there, its table) for a reason that only the reader knows.
    void refuse(std::string_view field, std::string what, std::string allowed, std::string remedy = {}) const;
    // "yard.plan.toml:31 point.ct": where a field stands (or, for one that is not there, its table).
    [[nodiscard]] std::string place_of(std::string_view field) const;
    // Refuses every field that is not one of these.
    void only(std::vector<std::string> const& known) const;

    [[nodiscard]] bool has(std::string_view field) const;
    [[nodiscard]] bool is_table(std::string_view field) const;
    [[nodiscard]] std::vector<std::string> fields() const;

    // Absent or refused: empty. `needed_` refuses an absent field and answers a harmless value.
    [[nodiscard]] std::optional<std::string> text(std::string_view field) const;
    [[nodiscard]] std::optional<std::string> word(std::string_view field,
                                                  std::vector<std::string> const& allowed) const;
    [[nodiscard]] std::optional<double> number(std::string_view field, Range allowed = {}) const;
    [[nodiscard]] std::optional<long long> whole(std::string_view field, Range allowed = {}) const;
    [[nodiscard]] std::string needed_text(std::string_view field) const;
    [[nodiscard]] std::string needed_word(std::string_view field,
                                          std::vector<std::string> const& allowed) const;
    [[nodiscard]] double needed_number(std::string_view field, Range allowed = {}) const;
    // A list of exactly `count` numbers; empty when absent or refused.
    [[nodiscard]] std::vector<double> numbers(std::string_view field, std::size_t count,
                                              Range allowed = {}) const;
    // Lists of any length; empty when absent or refused. An empty list is refused.
    [[nodiscard]] std::vector<double> any_numbers(std::string_view field, Range allowed = {}) const;
    [[nodiscard]] std::vector<long long> wholes(std::string_view field, Range allowed = {}) const;
    [[nodiscard]] std::vector<std::string> texts(std::string_view field) const;
    [[nodiscard]] std::optional<bool> flag(std::string_view field) const;
    [[nodiscard]] std::optional<Table> table(std::string_view field) const;
    [[nodiscard]] std::vector<Table> tables(std::string_view field) const;  // a list of tables; absent: none

private:
    Table(std::shared_ptr<DocumentState> document, void const* node, std::string path);
    void missing(std::string_view field, std::string allowed) const;

    std::shared_ptr<DocumentState> document_;
    void const* node_;  // the parser's own table, whose type stays out of this header
    std::string path_;
};

}  // namespace phasewright::tables
