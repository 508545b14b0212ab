#include "app/commands/json_fields.hpp"

#include <cmath>
#include <utility>

#include <nlohmann/json.hpp>

#include "core/quantity/text.hpp"

namespace phasewright::commands {

using nlohmann::json;

void FirstFault::say(quantity::Fault fault) {
    if (!fault_) fault_ = std::move(fault);
}

std::string as_found(json const& value) {
    constexpr std::size_t most = 120;
    auto text = value.dump(-1, ' ', false, json::error_handler_t::replace);
    if (text.size() <= most) return text;
    std::size_t cut = most;
    while (cut > 0 && (static_cast<unsigned char>(text[cut]) & 0xC0U) == 0x80U)
        --cut;  // not inside a character
    return text.substr(0, cut) + "...";
}

namespace {
bool is_ignored(std::string_view name) { return name.starts_with("x_"); }

std::string words_of(Range const& range) {
    std::string words = "a number";
    if (range.above_zero) words += " above 0";
    if (range.least && range.most)
        words += " from " + quantity::shortest(*range.least) + " to " + quantity::shortest(*range.most);
    else if (range.least)
        words += " of " + quantity::shortest(*range.least) + " or more";
    else if (range.most)
        words += " of " + quantity::shortest(*range.most) + " or less";
    if (!range.unit.empty()) words += " in " + std::string{range.unit};
    return words;
}

// Empty when the value is a number within its range, else what is wrong with it.
std::string wrong_number(json const& value, Range const& range) {
    if (!value.is_number()) return "this is not a number";
    auto const number = value.get<double>();
    if (!std::isfinite(number)) return "this number is too large";
    if (range.above_zero && number <= 0.0) return "this number is not above 0";
    if (range.least && number < *range.least) return "this number is too small";
    if (range.most && number > *range.most) return "this number is too large";
    return {};
}

std::string remedy_for_number(json const& value) {
    if (value.is_string()) return "send the number without quotation marks, or null when it was not measured";
    if (!value.is_number()) return "send a number, or null when it was not measured";
    return "look at the unit, the scale and the sign of this value";
}
}  // namespace

FieldReader::FieldReader(json const& object, std::string path, std::vector<std::string> const& known,
                         FirstFault& fault)
    : object_(object), path_(std::move(path)), fault_(fault) {
    if (!object_.is_object()) {
        fault_.say({"this is not an object", path_, as_found(object_), "an object {...}",
                    "put the fields between braces"});
        return;
    }
    for (auto const& [name, value] : object_.items()) {
        if (is_ignored(name)) continue;
        bool is_known = false;
        for (auto const& word : known) is_known = is_known || word == name;
        if (is_known) continue;
        fault_.say({"this field is not known", path_of(name), as_found(json(name)),
                    quantity::joined(known, " "),
                    "did you mean \"" + quantity::nearest_word(name, known) +
                        "\"? A name that begins with x_ is carried along and ignored"});
    }
}

std::string FieldReader::path_of(std::string_view name) const {
    return path_.empty() ? std::string{name} : path_ + "." + std::string{name};
}

void FieldReader::refuse(std::string_view name, std::string what, std::string found, std::string allowed,
                         std::string remedy) const {
    fault_.say({std::move(what), path_of(name), std::move(found), std::move(allowed), std::move(remedy)});
}

void FieldReader::refuse_word(std::string_view name, std::string const& found,
                              std::vector<std::string> const& words) const {
    refuse(name, "this word is not known here", as_found(json(found)), quantity::joined(words, " "),
           "did you mean \"" + quantity::nearest_word(found, words) + "\"?");
}

void FieldReader::require(std::string_view name, std::string_view what_it_is) const {
    if (child(name) != nullptr) return;
    refuse(name, "this field is required", "nothing", std::string{what_it_is},
           "add \"" + std::string{name} + "\"");
}

json const* FieldReader::child(std::string_view name) const {
    if (!object_.is_object()) return nullptr;
    auto const at = object_.find(std::string{name});
    return at == object_.end() || at->is_null() ? nullptr : &*at;
}

json const* FieldReader::object(std::string_view name) const {
    auto const* const value = child(name);
    if (value == nullptr || value->is_object()) return value;
    refuse(name, "this is not an object", as_found(*value), "an object {...}",
           "put its fields between braces");
    return nullptr;
}

json const* FieldReader::array(std::string_view name) const {
    auto const* const value = child(name);
    if (value == nullptr || value->is_array()) return value;
    refuse(name, "this is not a list", as_found(*value), "a list [...]",
           "put it between brackets, even a single one");
    return nullptr;
}

std::optional<double> FieldReader::number(std::string_view name, Range range) const {
    auto const* const value = child(name);
    if (value == nullptr) return std::nullopt;
    auto const wrong = wrong_number(*value, range);
    if (wrong.empty()) return value->get<double>();
    refuse(name, wrong, as_found(*value), words_of(range), remedy_for_number(*value));
    return std::nullopt;
}

std::optional<std::size_t> FieldReader::index(std::string_view name) const {
    auto const* const value = child(name);
    if (value == nullptr) return std::nullopt;
    if (value->is_number_unsigned()) return value->get<std::size_t>();
    refuse(name, "this is not the place of a snapshot", as_found(*value), "a whole number from 0",
           "count the snapshots of this line from 0");
    return std::nullopt;
}

std::optional<std::string> FieldReader::text(std::string_view name) const {
    auto const* const value = child(name);
    if (value == nullptr) return std::nullopt;
    if (value->is_string()) return value->get<std::string>();
    refuse(name, "this is not text", as_found(*value), "text in quotation marks",
           "put it between quotation marks");
    return std::nullopt;
}

std::optional<bool> FieldReader::yes_no(std::string_view name) const {
    auto const* const value = child(name);
    if (value == nullptr) return std::nullopt;
    if (value->is_boolean()) return value->get<bool>();
    refuse(name, "this is neither true nor false", as_found(*value), "true false",
           "send true or false without quotes");
    return std::nullopt;
}

MaybeNumbers FieldReader::column(std::string_view name, std::size_t length, std::string_view one_each,
                                 Range range) const {
    auto const* const list = array(name);
    if (list == nullptr) return {};
    if (list->size() != length) {
        refuse(name, "the length of this list does not fit the service",
               std::to_string(list->size()) + " values: " + as_found(*list),
               std::to_string(length) + " values, " + std::string{one_each},
               "send null for what was not measured, or look at the service");
        return {};
    }
    MaybeNumbers numbers;
    for (auto const& value : *list) {
        auto const wrong = value.is_null() ? std::string{} : wrong_number(value, range);
        if (!wrong.empty()) {
            auto const place = std::string{name} + "[" + std::to_string(numbers.size()) + "]";
            refuse(place, wrong, as_found(value), words_of(range), remedy_for_number(value));
            return {};
        }
        numbers.push_back(value.is_null() ? std::nullopt : std::optional{value.get<double>()});
    }
    return numbers;
}

std::vector<std::string> FieldReader::texts(std::string_view name) const {
    auto const* const list = array(name);
    if (list == nullptr) return {};
    std::vector<std::string> words;
    for (auto const& value : *list) {
        if (!value.is_string()) {
            refuse(std::string{name} + "[" + std::to_string(words.size()) + "]", "this is not text",
                   as_found(value), "text in quotation marks", "put it between quotation marks");
            return {};
        }
        words.push_back(value.get<std::string>());
    }
    return words;
}

}  // namespace phasewright::commands
