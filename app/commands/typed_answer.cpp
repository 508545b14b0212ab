#include "app/commands/typed_answer.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <optional>
#include <ranges>
#include <vector>

#include "core/diagnosis/test_catalogue.hpp"
#include "core/plan/service.hpp"

namespace phasewright::commands {

namespace {
using diagnosis::AnswerForm;
using quantity::Fault;
using readings::TestAnswer;

std::string lower(std::string_view text) {
    std::string small(text);
    std::ranges::transform(small, small.begin(), [](unsigned char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : static_cast<char>(c); });
    return small;
}

// "before 4,1 A -> 0.0 A" in its words, without what only joins them.
std::vector<std::string> words_of(std::string_view typed) {
    std::vector<std::string> words;
    std::string word;
    auto const close = [&] {
        constexpr std::array joining{"to", "->", "then", "of", "and", "before", "during", "in"};
        if (!word.empty() && std::ranges::find(joining, lower(word)) == joining.end()) words.push_back(word);
        word.clear();
    };
    for (char const c : typed) {
        if (c == ' ' || c == '\t' || c == ';' || c == '\r')
            close();
        else
            word += c;
    }
    close();
    return words;
}

struct Number {
    double value = 0.0;
    std::string unit;
};

// One number at the front of a word, with its unit behind it or in the next word.
std::optional<Number> number_of(std::string word) {
    std::ranges::replace(word, ',', '.');
    if (word.starts_with('+')) word.erase(0, 1);
    Number number;
    auto const [end, error] = std::from_chars(word.data(), word.data() + word.size(), number.value);
    if (error != std::errc{} || !std::isfinite(number.value) || std::abs(number.value) > 1e12) return std::nullopt;
    number.unit = word.substr(static_cast<std::size_t>(end - word.data()));
    return number;
}

bool take_unit(Number& number, std::string_view base) {
    auto unit = lower(number.unit);
    if (unit.empty()) return true;
    if (unit.starts_with('k') && unit.size() > 1) {
        number.value *= 1000.0;
        unit.erase(0, 1);
    } else if (unit.starts_with('m') && unit.size() > 1) {
        number.value *= 0.001;
        unit.erase(0, 1);
    }
    return unit == lower(base);
}

// All numbers that were typed, in the base unit; empty when a word is neither a number nor a unit.
std::vector<double> numbers_of(std::string_view typed, std::string_view base) {
    std::vector<Number> numbers;
    for (auto const& word : words_of(typed)) {
        if (auto const number = number_of(word))
            numbers.push_back(*number);
        else if (!numbers.empty() && numbers.back().unit.empty())
            numbers.back().unit = word;
        else
            return {};
    }
    // "8.8 8.2 9.4 kW": a unit stands for the numbers before it that have none, and for those after the last one.
    std::string unit;
    for (auto& number : numbers)
        if (!number.unit.empty()) unit = number.unit;
    for (auto& number : numbers | std::views::reverse) {
        if (number.unit.empty()) number.unit = unit;
        unit = number.unit;
    }
    std::vector<double> values;
    for (auto& number : numbers) {
        if (!take_unit(number, base)) return {};
        values.push_back(number.value);
    }
    return values;
}

std::string at_what(std::string_view at) {
    if (at.empty()) return {};
    if (at.starts_with("CT")) return "ct";
    return plan::conductor_of(at) ? "conductor" : "terminal";
}

std::string_view unit_of(AnswerForm form) {
    switch (form) {
        case AnswerForm::volts:
        case AnswerForm::volts_pair: return "V";
        case AnswerForm::amperes:
        case AnswerForm::amperes_pair:
        case AnswerForm::primary_rating: return "A";
        case AnswerForm::power:
        case AnswerForm::power_pair:
        case AnswerForm::yes_or_pair: return "W";
        default: return "";
    }
}

bool take_one(std::string_view typed, AnswerForm form, TestAnswer& answer) {
    auto const values = numbers_of(typed, unit_of(form));
    if (values.size() != 1) return false;
    answer.value = values[0];
    answer.unit = unit_of(form);
    switch (form) {
        case AnswerForm::volts:
        case AnswerForm::amperes: return values[0] >= 0.0;
        case AnswerForm::primary_rating:
        case AnswerForm::turns: return values[0] > 0.0;
        case AnswerForm::power_factor: return values[0] > 0.0 && values[0] <= 1.0;
        default: return true;
    }
}

bool take_pair(std::string_view typed, AnswerForm form, TestAnswer& answer) {
    auto values = numbers_of(typed, unit_of(form));
    // An odd count: the load's own power stands before the readings.
    if (form == AnswerForm::power_pair && answer.kind == "load_switched" && values.size() % 2 == 1 && values.size() > 2) {
        if (values[0] <= 0.0) return false;
        answer.value = values[0];
        values.erase(values.begin());
    }
    // Power: one pair of totals, or every element before and then every element during.
    bool const each = form == AnswerForm::power_pair && (values.size() == 4 || values.size() == 6);
    if (each) {
        auto const half = static_cast<std::ptrdiff_t>(values.size() / 2);
        answer.before_each.assign(values.begin(), values.begin() + half);
        answer.during_each.assign(values.begin() + half, values.end());
        answer.unit = unit_of(form);
        return true;
    }
    if (values.size() != 2) return false;
    answer.before = values[0];
    answer.during = values[1];
    answer.unit = unit_of(form);
    return form == AnswerForm::power_pair || form == AnswerForm::yes_or_pair || (values[0] >= 0.0 && values[1] >= 0.0);
}

bool take_word(std::string_view typed, std::vector<std::string_view> const& allowed, TestAnswer& answer) {
    auto const words = words_of(lower(typed));
    if (words.size() != 1 || std::ranges::find(allowed, words[0]) == allowed.end()) return false;
    answer.word = words[0];
    return true;
}

bool take_cables(std::string_view typed, TestAnswer& answer) {
    auto const values = numbers_of(typed, "");
    if (values.size() != 2 || values[0] < 0.0 || values[1] < 1.0 || values[0] > values[1]) return false;
    answer.value = values[0];
    answer.of = values[1];
    return true;
}

bool take(std::string_view typed, AnswerForm form, TestAnswer& answer) {
    switch (form) {
        case AnswerForm::amperes_pair:
        case AnswerForm::volts_pair:
        case AnswerForm::power_pair: return take_pair(typed, form, answer);
        case AnswerForm::yes_or_pair: return take_word(typed, {"yes", "no"}, answer) || take_pair(typed, form, answer);
        case AnswerForm::sequence: return take_word(typed, {"abc", "acb"}, answer);
        case AnswerForm::touch: return take_word(typed, {"a", "b", "c", "n", "lost", "dead"}, answer);
        case AnswerForm::cables: return take_cables(typed, answer);
        default: return take_one(typed, form, answer);
    }
}
}  // namespace

std::string what_to_type(diagnosis::NextTest const& test) {
    return std::string(diagnosis::catalogued(test.kind).answer_in_words);
}

readings::TestAnswer not_made(diagnosis::NextTest const& test) {
    return {.kind = test.kind, .at_what = at_what(test.at), .at = test.at};
}

std::expected<readings::TestAnswer, Fault> typed_answer(diagnosis::NextTest const& made, std::string_view typed) {
    auto answer = not_made(made);
    if (take(typed, diagnosis::catalogued(made.kind).answer, answer)) return answer;
    return std::unexpected(Fault{"this cannot be the answer to the test", made.kind, std::string(typed), what_to_type(made),
                                 "type it again, or skip when the test cannot be made"});
}

}  // namespace phasewright::commands
