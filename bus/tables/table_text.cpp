#include "bus/tables/table_text.hpp"

#include <array>
#include <cmath>

#include "core/quantity/text.hpp"

namespace phasewright::tables {

namespace {
constexpr std::size_t line_width = 118;

std::string escaped(unsigned char c) {
    constexpr std::string_view digits = "0123456789ABCDEF";
    return std::string{"\\u00"} + digits[c >> 4U] + digits[c & 15U];
}

template <class Values, class Text>
std::string list_of(Values const& values, Text&& as_text) {
    std::vector<std::string> parts;
    parts.reserve(values.size());
    for (auto const& value : values) parts.push_back(as_text(value));
    return "[" + quantity::joined(parts, ", ") + "]";
}
}  // namespace

std::string quoted(std::string_view text) {
    std::string all{'"'};
    for (char const c : text) {
        auto const byte = static_cast<unsigned char>(c);
        if (c == '"' || c == '\\') all += std::string{'\\'} + c;
        else if (c == '\n') all += "\\n";
        else if (c == '\t') all += "\\t";
        else if (c == '\r') all += "\\r";
        else all += byte < 0x20 || byte == 0x7F ? escaped(byte) : std::string{c};
    }
    return all + '"';
}

std::string number_text(double value) {
    auto text = quantity::shortest(value);
    // Digits alone are a whole number, and a whole number has 64 bits.
    bool const is_whole = text.find_first_of(".en") == std::string::npos;
    if (is_whole && std::abs(value) >= 1e15) text += ".0";
    return text;
}

void TableText::text(std::string_view field, std::string_view value) {
    fields_.push_back({std::string{field}, quoted(value), {}});
}
void TableText::text_unless_empty(std::string_view field, std::string_view value) {
    if (!value.empty()) text(field, value);
}
void TableText::number(std::string_view field, std::optional<double> value) {
    if (value) fields_.push_back({std::string{field}, number_text(*value), {}});
}
void TableText::whole(std::string_view field, std::optional<long long> value) {
    if (value) fields_.push_back({std::string{field}, std::to_string(*value), {}});
}
void TableText::flag(std::string_view field, std::optional<bool> value) {
    if (value) fields_.push_back({std::string{field}, *value ? "true" : "false", {}});
}
void TableText::numbers(std::string_view field, std::vector<double> const& values) {
    fields_.push_back({std::string{field}, list_of(values, number_text), {}});
}
void TableText::wholes(std::string_view field, std::vector<int> const& values) {
    fields_.push_back({std::string{field}, list_of(values, [](int value) { return std::to_string(value); }), {}});
}
void TableText::texts(std::string_view field, std::vector<std::string> const& values) {
    fields_.push_back({std::string{field}, list_of(values, quoted), {}});
}
void TableText::table(std::string_view field, TableText const& value) {
    fields_.push_back({std::string{field}, value.on_one_line(), {value}});
}
void TableText::tables(std::string_view field, std::vector<TableText> const& values) {
    auto const text = list_of(values, [](TableText const& value) { return value.on_one_line(); });
    fields_.push_back({std::string{field}, text, values, true});
}

std::string TableText::on_one_line() const {
    std::vector<std::string> parts;
    parts.reserve(fields_.size());
    for (auto const& field : fields_) parts.push_back(field.name + " = " + field.value);
    return parts.empty() ? "{}" : "{ " + quantity::joined(parts, ", ") + " }";
}

std::string TableText::section(std::string_view header, std::string_view path) const {
    std::string lines = std::string{header} + "\n";
    std::string sections;
    for (auto const& field : fields_) {
        bool const fits = field.name.size() + field.value.size() + 3 <= line_width;
        if (fits || field.parts.empty()) {
            lines += field.name + " = " + field.value + "\n";
        } else if (field.is_list) {
            lines += field.name + " = [\n";
            for (auto const& part : field.parts) lines += "    " + part.on_one_line() + ",\n";
            lines += "]\n";
        } else {
            auto const below = std::string{path} + "." + field.name;
            sections += field.parts.front().section("[" + below + "]", below);
        }
    }
    return lines + sections;
}

}  // namespace phasewright::tables
