#include "tools/source_scan.hpp"

#include <algorithm>
#include <cctype>
#include <optional>

namespace phasewright::tools {
namespace {

bool is_word(char c) { return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_'; }

int line_at(std::string_view text, std::size_t position) {
    auto const before = text.substr(0, position);
    return 1 + static_cast<int>(std::ranges::count(before, '\n'));
}

// The start of the word that ends just before `position`.
std::size_t word_start(std::string_view text, std::size_t position) {
    while (position > 0 && (is_word(text[position - 1]) || text[position - 1] == '\'')) {
        --position;
    }
    return position;
}

// 1'000'000: the mark belongs to a number, not to a character.
bool is_digit_separator(std::string_view text, std::size_t position) {
    auto const start = word_start(text, position);
    return start < position && std::isdigit(static_cast<unsigned char>(text[start])) != 0;
}

// R"( opens a raw string when the word that ends at the quote is R, u8R, uR, UR or LR.
bool opens_raw_string(std::string_view text, std::size_t quote) {
    auto const start = word_start(text, quote);
    auto const prefix = text.substr(start, quote - start);
    return prefix == "R" || prefix == "u8R" || prefix == "uR" || prefix == "UR" || prefix == "LR";
}

// Position just behind the literal that opens at `quote`.
std::size_t end_of_literal(std::string_view text, std::size_t quote) {
    for (auto at = quote + 1; at < text.size(); ++at) {
        if (text[at] == '\\') {
            ++at;
        } else if (text[at] == text[quote] || text[at] == '\n') {
            return at + 1;
        }
    }
    return text.size();
}

std::size_t end_of_raw_string(std::string_view text, std::size_t quote) {
    auto const bracket = text.find('(', quote);
    if (bracket == std::string_view::npos) return text.size();
    auto const closing = ")" + std::string(text.substr(quote + 1, bracket - quote - 1)) + "\"";
    auto const end = text.find(closing, bracket);
    return end == std::string_view::npos ? text.size() : end + closing.size();
}

std::size_t end_of_block_comment(std::string_view text, std::size_t start) {
    auto const end = text.find("*/", start + 2);
    return end == std::string_view::npos ? text.size() : end + 2;
}

// The end of the comment or literal that starts at `at`; empty when neither does.
std::optional<std::size_t> end_of_silence(std::string_view text, std::size_t at) {
    auto const rest = text.substr(at);
    if (rest.starts_with("//")) return std::min(text.find('\n', at), text.size());
    if (rest.starts_with("/*")) return end_of_block_comment(text, at);
    if (rest.front() == '"')
        return opens_raw_string(text, at) ? end_of_raw_string(text, at) : end_of_literal(text, at);
    if (rest.front() == '\'' && !is_digit_separator(text, at)) return end_of_literal(text, at);
    return std::nullopt;
}

std::string_view after_spaces(std::string_view text) {
    auto const first = text.find_first_not_of(" \t");
    return first == std::string_view::npos ? std::string_view{} : text.substr(first);
}

// `line` starts at a line's beginning: the include that it holds, if it does.
std::optional<Include> include_in(std::string_view line) {
    auto rest = after_spaces(line.substr(0, line.find('\n')));
    if (!rest.starts_with('#')) return std::nullopt;
    rest = after_spaces(rest.substr(1));
    if (!rest.starts_with("include")) return std::nullopt;
    rest = after_spaces(rest.substr(std::string_view("include").size()));
    if (rest.empty() || (rest.front() != '"' && rest.front() != '<')) return std::nullopt;
    bool const quoted = rest.front() == '"';
    auto const end = rest.find(quoted ? '"' : '>', 1);
    if (end == std::string_view::npos) return std::nullopt;
    return Include{.path = std::string(rest.substr(1, end - 1)), .quoted = quoted};
}

}  // namespace

ScannedSource scan(std::string_view text) {
    ScannedSource scanned{.code = std::string(text)};
    bool line_begins = true;
    for (std::size_t at = 0; at < text.size();) {
        if (line_begins) {
            if (auto found = include_in(text.substr(at))) {
                found->line = line_at(text, at);
                scanned.includes.push_back(*found);
            }
        }
        line_begins = text[at] == '\n';
        auto const end = end_of_silence(text, at);
        if (!end) {
            ++at;
            continue;
        }
        std::replace_if(
            scanned.code.begin() + static_cast<std::ptrdiff_t>(at),
            scanned.code.begin() + static_cast<std::ptrdiff_t>(*end), [](char c) { return c != '\n'; }, ' ');
        // A literal that runs to the end of its line has swallowed the line's end.
        line_begins = *end > 0 && text[*end - 1] == '\n';
        at = *end;
    }
    return scanned;
}

int line_of_word(std::string_view code, std::string_view word) {
    for (auto at = code.find(word); at != std::string_view::npos; at = code.find(word, at + 1)) {
        bool const starts = at == 0 || !is_word(code[at - 1]);
        auto const behind = at + word.size();
        bool const ends = behind >= code.size() || !is_word(code[behind]);
        if (starts && ends) return line_at(code, at);
    }
    return 0;
}

}  // namespace phasewright::tools
