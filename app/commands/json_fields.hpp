// Reads the fields of one JSON object strictly. Every object knows the names that may stand in it, so an
// unknown one is refused with the nearest known one; every value is checked for its kind. The first fault
// found is kept and all later questions answer "nothing", so a reader asks for field after field and looks
// for a fault once, at the end.
#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <nlohmann/json_fwd.hpp>

#include "core/quantity/fault.hpp"

namespace phasewright::commands {

class FirstFault {
public:
    void say(quantity::Fault fault);
    [[nodiscard]] bool any() const { return fault_.has_value(); }
    [[nodiscard]] quantity::Fault const& get() const { return *fault_; }

private:
    std::optional<quantity::Fault> fault_;
};

using MaybeNumbers = std::vector<std::optional<double>>;

// What a number may be; the bound itself is allowed.
struct Range {
    std::optional<double> least, most;
    bool above_zero = false;
    std::string_view unit;  // "V", for the message
};

class FieldReader {
public:
    // `path` is the place of the object in the line: "" or "snapshots[0]".
    FieldReader(nlohmann::json const& object, std::string path, std::vector<std::string> const& known,
                FirstFault& fault);

    // Each answers nothing when the field is missing, null, or not of its kind (which is then a fault).
    [[nodiscard]] std::optional<double> number(std::string_view name, Range range = {}) const;
    [[nodiscard]] std::optional<std::size_t> index(std::string_view name) const;
    [[nodiscard]] std::optional<std::string> text(std::string_view name) const;
    [[nodiscard]] std::optional<bool> yes_no(std::string_view name) const;
    [[nodiscard]] MaybeNumbers column(std::string_view name, std::size_t length, std::string_view one_each,
                                      Range range = {}) const;
    [[nodiscard]] std::vector<std::string> texts(std::string_view name) const;
    // The object, array or whatever stands there; null when missing or null.
    [[nodiscard]] nlohmann::json const* child(std::string_view name) const;
    [[nodiscard]] nlohmann::json const* object(std::string_view name) const;
    [[nodiscard]] nlohmann::json const* array(std::string_view name) const;

    // One of some words, by the function that knows them: word("flow", plan::flow_of, {"import", ...}).
    template <class Value>
    [[nodiscard]] std::optional<Value> word(std::string_view name,
                                            std::optional<Value> (*value_of)(std::string_view),
                                            std::vector<std::string> const& words) const {
        auto const found = text(name);
        if (!found) return std::nullopt;
        auto const value = value_of(*found);
        if (!value) refuse_word(name, *found, words);
        return value;
    }

    void require(std::string_view name, std::string_view what_it_is) const;
    void refuse(std::string_view name, std::string what, std::string found, std::string allowed,
                std::string remedy) const;
    void refuse_word(std::string_view name, std::string const& found,
                     std::vector<std::string> const& words) const;
    [[nodiscard]] std::string path_of(std::string_view name) const;

private:
    nlohmann::json const& object_;
    std::string path_;
    FirstFault& fault_;
};

// A value as it stood in the line, cut to a length that fits in a message.
[[nodiscard]] std::string as_found(nlohmann::json const& value);

}  // namespace phasewright::commands
