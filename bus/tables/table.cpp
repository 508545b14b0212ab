#include "bus/tables/table.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>

#include <toml++/toml.h>

#include "core/quantity/text.hpp"

namespace phasewright::tables {

struct DocumentState {
    toml::table root;
    std::string file;
    std::optional<quantity::Fault> fault;
};

namespace {
std::string as_found(toml::node const& node) {
    if (auto const* table = node.as_table()) return table->empty() ? "an empty table" : "a table";
    if (auto const* list = node.as_array()) return "a list of " + std::to_string(list->size());
    if (auto const* real = node.as_floating_point(); real != nullptr && std::isfinite(real->get()))
        return quantity::shortest(real->get());
    std::ostringstream text;
    node.visit([&](auto const& value) {
        if constexpr (toml::is_value<decltype(value)>) text << value;
    });
    auto const words = text.str();
    return node.is_string() ? "\"" + node.as_string()->get() + "\"" : words;
}

std::string as_allowed(Range range) {
    bool const has_most = std::isfinite(range.most);
    if (!std::isfinite(range.least))
        return has_most ? "at most " + quantity::shortest(range.most) : "any number";
    auto const least = quantity::shortest(range.least);
    if (range.above_least)
        return "above " + least + (has_most ? " up to " + quantity::shortest(range.most) : "");
    return has_most ? least + " to " + quantity::shortest(range.most) : least + " or more";
}

bool holds(Range range, double value) {
    bool const enough = range.above_least ? value > range.least : value >= range.least;
    return std::isfinite(value) && enough && value <= range.most;
}

std::optional<double> as_number(toml::node const& node) {
    if (auto const* real = node.as_floating_point()) return real->get();
    if (auto const* whole = node.as_integer()) return static_cast<double>(whole->get());
    return std::nullopt;
}

toml::table const& table_of(void const* node) { return *static_cast<toml::table const*>(node); }

void keep_fault(DocumentState& document, toml::source_region const& region, std::string const& field,
                quantity::Fault fault) {
    if (document.fault) return;
    fault.where =
        document.file + ":" + std::to_string(region.begin.line) + (field.empty() ? "" : " " + field);
    document.fault = std::move(fault);
}
std::string joined_path(std::string const& path, std::string_view field) {
    return path.empty() ? std::string{field} : path + "." + std::string{field};
}
}  // namespace

Table::Table(std::shared_ptr<DocumentState> document, void const* node, std::string path)
    : document_(std::move(document)), node_(node), path_(std::move(path)) {}

std::expected<Table, quantity::Fault> Table::parse(std::string_view text, std::string const& file) {
    auto document = std::make_shared<DocumentState>();
    document->file = file;
    try {
        document->root = toml::parse(text, std::string_view{file});
    } catch (toml::parse_error const& error) {
        return std::unexpected(
            quantity::Fault{.what = "the text is not TOML: " + std::string{error.description()},
                            .where = file + ":" + std::to_string(error.source().begin.line),
                            .found = {},
                            .allowed = "TOML 1.0",
                            .remedy = {}});
    }
    auto const* const root = &document->root;
    return Table{std::move(document), root, {}};
}

std::optional<quantity::Fault> Table::fault() const { return document_->fault; }

void Table::refuse(std::string_view field, std::string what, std::string allowed, std::string remedy) const {
    auto const& table = table_of(node_);
    auto const* const node = table.get(field);
    quantity::Fault fault{.what = std::move(what),
                          .where = {},
                          .found = node == nullptr ? std::string{} : as_found(*node),
                          .allowed = std::move(allowed),
                          .remedy = std::move(remedy)};
    auto const& region = node == nullptr ? table.source() : node->source();
    keep_fault(*document_, region, joined_path(path_, field), std::move(fault));
}

std::string Table::place_of(std::string_view field) const {
    auto const& table = table_of(node_);
    auto const* const node = table.get(field);
    auto const line = (node == nullptr ? table.source() : node->source()).begin.line;
    return document_->file + ":" + std::to_string(line) + " " + joined_path(path_, field);
}

void Table::missing(std::string_view field, std::string allowed) const {
    refuse(field, "the field is missing", std::move(allowed));
}

void Table::only(std::vector<std::string> const& known) const {
    for (auto const& [key, node] : table_of(node_)) {
        std::string const field{key.str()};
        if (std::ranges::find(known, field) != known.end()) continue;
        quantity::Fault fault{.what = "the field is not known",
                              .where = {},
                              .found = "\"" + field + "\"",
                              .allowed = quantity::joined(known, ", "),
                              .remedy = "did you mean \"" + quantity::nearest_word(field, known) + "\"?"};
        keep_fault(*document_, key.source(), joined_path(path_, field), std::move(fault));
    }
}

bool Table::has(std::string_view field) const { return table_of(node_).contains(field); }

bool Table::is_table(std::string_view field) const {
    auto const* const node = table_of(node_).get(field);
    return node != nullptr && node->is_table();
}

std::vector<std::string> Table::fields() const {
    std::vector<std::string> names;
    for (auto const& [key, node] : table_of(node_)) names.emplace_back(key.str());
    return names;
}

std::optional<std::string> Table::text(std::string_view field) const {
    auto const* const node = table_of(node_).get(field);
    if (node == nullptr) return std::nullopt;
    if (auto const* text = node->as_string()) return text->get();
    refuse(field, "the field is not a text", "a text in quotes");
    return std::nullopt;
}

std::optional<std::string> Table::word(std::string_view field,
                                       std::vector<std::string> const& allowed) const {
    auto found = text(field);
    if (!found) return std::nullopt;
    if (std::ranges::find(allowed, *found) != allowed.end()) return found;
    refuse(field, "the word is not known", quantity::joined(allowed, ", "),
           "did you mean \"" + quantity::nearest_word(*found, allowed) + "\"?");
    return std::nullopt;
}

std::optional<double> Table::number(std::string_view field, Range allowed) const {
    auto const* const node = table_of(node_).get(field);
    if (node == nullptr) return std::nullopt;
    auto const value = as_number(*node);
    if (value && holds(allowed, *value)) return value;
    refuse(field, value ? "the number is out of range" : "the field is not a number", as_allowed(allowed));
    return std::nullopt;
}

std::optional<long long> Table::whole(std::string_view field, Range allowed) const {
    auto const* const node = table_of(node_).get(field);
    if (node == nullptr) return std::nullopt;
    auto const* const value = node->as_integer();
    if (value != nullptr && holds(allowed, static_cast<double>(value->get()))) return value->get();
    refuse(field, value != nullptr ? "the number is out of range" : "the field is not a whole number",
           "a whole number, " + as_allowed(allowed));
    return std::nullopt;
}

std::string Table::needed_text(std::string_view field) const {
    if (!has(field)) missing(field, "a text in quotes");
    return text(field).value_or("");
}

std::string Table::needed_word(std::string_view field, std::vector<std::string> const& allowed) const {
    if (!has(field)) missing(field, quantity::joined(allowed, ", "));
    return word(field, allowed).value_or(allowed.front());
}

double Table::needed_number(std::string_view field, Range allowed) const {
    if (!has(field)) missing(field, as_allowed(allowed));
    return number(field, allowed).value_or(0.0);
}

std::vector<double> Table::numbers(std::string_view field, std::size_t count, Range allowed) const {
    auto const* const node = table_of(node_).get(field);
    if (node == nullptr) return {};
    auto const wanted = "a list of " + std::to_string(count) + " numbers, each " + as_allowed(allowed);
    auto const* const list = node->as_array();
    std::vector<double> values;
    if (list != nullptr)
        for (auto const& entry : *list) {
            auto const value = as_number(entry);
            if (!value || !holds(allowed, *value)) {
                quantity::Fault fault{.what = value ? "a number of the list is out of range"
                                                    : "an entry of the list is not a number",
                                      .where = {},
                                      .found = as_found(entry),
                                      .allowed = wanted,
                                      .remedy = {}};
                keep_fault(*document_, entry.source(), joined_path(path_, field), std::move(fault));
                return {};
            }
            values.push_back(*value);
        }
    if (list != nullptr && values.size() == count) return values;
    refuse(field, list == nullptr ? "the field is not a list" : "the list has the wrong length", wanted);
    return {};
}

std::vector<double> Table::any_numbers(std::string_view field, Range allowed) const {
    auto const* const node = table_of(node_).get(field);
    if (node == nullptr) return {};
    auto const* const list = node->as_array();
    if (list != nullptr && !list->empty()) return numbers(field, list->size(), allowed);
    refuse(field, list == nullptr ? "the field is not a list" : "the list is empty",
           "a list of numbers, each " + as_allowed(allowed));
    return {};
}

std::vector<long long> Table::wholes(std::string_view field, Range allowed) const {
    auto const* const node = table_of(node_).get(field);
    if (node == nullptr) return {};
    auto const wanted = "a list of whole numbers, each " + as_allowed(allowed);
    auto const* const list = node->as_array();
    std::vector<long long> values;
    if (list != nullptr) {
        for (auto const& entry : *list) {
            auto const* const value = entry.as_integer();
            if (value == nullptr || !holds(allowed, static_cast<double>(value->get()))) {
                quantity::Fault fault{.what = value != nullptr ? "a number of the list is out of range"
                                                               : "an entry of the list is not a whole number",
                                      .where = {},
                                      .found = as_found(entry),
                                      .allowed = wanted,
                                      .remedy = {}};
                keep_fault(*document_, entry.source(), joined_path(path_, field), std::move(fault));
                return {};
            }
            values.push_back(value->get());
        }
    }
    if (values.empty())
        refuse(field, list == nullptr ? "the field is not a list" : "the list is empty", wanted);
    return values;
}

std::vector<std::string> Table::texts(std::string_view field) const {
    auto const* const node = table_of(node_).get(field);
    if (node == nullptr) return {};
    auto const* const list = node->as_array();
    std::vector<std::string> values;
    if (list != nullptr) {
        for (auto const& entry : *list) {
            if (auto const* const text = entry.as_string()) values.push_back(text->get());
        }
    }
    if (list == nullptr || list->empty() || values.size() != list->size()) {
        refuse(field, "the field is not a list of texts", "a list of texts in quotes");
        return {};
    }
    return values;
}

std::optional<bool> Table::flag(std::string_view field) const {
    auto const* const node = table_of(node_).get(field);
    if (node == nullptr) return std::nullopt;
    if (auto const* value = node->as_boolean()) return value->get();
    refuse(field, "the field is neither true nor false", "true, false");
    return std::nullopt;
}

std::optional<Table> Table::table(std::string_view field) const {
    auto const* const node = table_of(node_).get(field);
    if (node == nullptr) return std::nullopt;
    if (auto const* table = node->as_table()) return Table{document_, table, joined_path(path_, field)};
    refuse(field, "the field is not a table", "a table");
    return std::nullopt;
}

std::vector<Table> Table::tables(std::string_view field) const {
    auto const* const node = table_of(node_).get(field);
    if (node == nullptr) return {};
    std::vector<Table> all;
    auto const* const list = node->as_array();
    if (list != nullptr)
        for (auto const& entry : *list)
            if (auto const* table = entry.as_table())
                all.push_back(Table{document_, table, joined_path(path_, field)});
    if (list == nullptr || all.size() != list->size())
        refuse(field, "the field is not a list of tables", "a list of tables");
    return all;
}

}  // namespace phasewright::tables
