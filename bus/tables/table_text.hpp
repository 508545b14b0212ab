// Writes the TOML that table.hpp reads: fields in the order they are given, one line each; a table on one line where it
// fits, else as its own [section]; a list of tables one to a line. The same fields give the same bytes.
#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace phasewright::tables {

class TableText {
public:
    void text(std::string_view field, std::string_view value);
    void text_unless_empty(std::string_view field, std::string_view value);
    void number(std::string_view field, std::optional<double> value);  // empty: nothing is written
    void whole(std::string_view field, std::optional<long long> value);
    void flag(std::string_view field, std::optional<bool> value);
    void numbers(std::string_view field, std::vector<double> const& values);
    void wholes(std::string_view field, std::vector<int> const& values);
    void texts(std::string_view field, std::vector<std::string> const& values);
    void table(std::string_view field, TableText const& value);
    void tables(std::string_view field, std::vector<TableText> const& values);

    [[nodiscard]] std::string on_one_line() const;  // "{ ratio = [200, 5], output = \"5A\" }"
    // `header` is "[[point]]" and `path` is "point"; the sections of its tables are [point.ct].
    [[nodiscard]] std::string section(std::string_view header, std::string_view path) const;

private:
    struct Field {
        std::string name;
        std::string value;            // on one line
        std::vector<TableText> parts;  // of a table: itself; of a list of tables: its entries
        bool is_list = false;
    };
    std::vector<Field> fields_;
};

[[nodiscard]] std::string quoted(std::string_view text);  // a TOML basic string
[[nodiscard]] std::string number_text(double value);      // 5, 0.333, 1e+30: reads back as the same number

}  // namespace phasewright::tables
