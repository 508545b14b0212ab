#include "tests/cases/case_file.hpp"

#include <array>
#include <charconv>
#include <fstream>
#include <iterator>
#include <utility>

namespace phasewright::cases {

namespace {
constexpr std::string_view blanks = " \t\r";

std::string_view trimmed(std::string_view text) {
    auto const begin = text.find_first_not_of(blanks);
    if (begin == std::string_view::npos) return {};
    return text.substr(begin, text.find_last_not_of(blanks) - begin + 1);
}
}  // namespace

std::vector<std::string> split(std::string_view text, std::string_view between) {
    std::vector<std::string> parts;
    for (;;) {
        auto const end = text.find(between);
        auto const part = trimmed(text.substr(0, end));
        if (!part.empty()) parts.emplace_back(part);
        if (end == std::string_view::npos) return parts;
        text.remove_prefix(end + between.size());
    }
}

std::expected<CaseFile, quantity::Fault> parse_case(std::string name, std::string_view text) {
    constexpr std::array<std::string_view, 8> keywords{"source", "reason", "plan",     "wiring",
                                                       "load",   "line",   "readings", "expect"};
    CaseFile file{std::move(name), {}};
    std::size_t number = 0;
    while (!text.empty()) {
        ++number;
        auto const end = text.find('\n');
        auto const line = trimmed(text.substr(0, end));
        text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
        if (line.empty() || line.starts_with('#')) continue;
        auto const space = line.find_first_of(blanks);
        auto const keyword = line.substr(0, space);
        bool known = false;
        for (auto const word : keywords) known = known || word == keyword;
        if (!known)
            return std::unexpected(quantity::Fault{
                "a statement begins with a word that is not known", file.name + ":" + std::to_string(number),
                std::string{keyword}, "source reason plan wiring load line readings expect", ""});
        auto const rest = space == std::string_view::npos ? std::string_view{} : trimmed(line.substr(space));
        file.statements.push_back({number, std::string{keyword}, std::string{rest}});
    }
    if (file.statements.empty() || file.statements.front().keyword != "source")
        return std::unexpected(
            quantity::Fault{"a case begins with its source", file.name, "", "source ...", ""});
    return file;
}

std::expected<CaseFile, quantity::Fault> read_case(std::filesystem::path const& file) {
    std::ifstream in(file, std::ios::binary);
    if (!in) return std::unexpected(quantity::Fault{"the case cannot be read", file.string(), "", "", ""});
    std::string const text{std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
    return parse_case((file.parent_path().filename() / file.filename()).string(), text);
}

Words::Words(std::string_view text) : words_(split(text, " ")) {}

std::string_view Words::peek() const { return empty() ? std::string_view{} : std::string_view{words_[at_]}; }

bool Words::take(std::string_view word) {
    auto const parts = split(word, " ");
    if (at_ + parts.size() > words_.size()) return false;
    for (std::size_t k = 0; k < parts.size(); ++k)
        if (words_[at_ + k] != parts[k]) return false;
    at_ += parts.size();
    return true;
}

std::string Words::next() {
    if (!empty()) return words_[at_++];
    wrong("another word");
    return {};
}

double Words::number() {
    auto const word = next();
    double value = 0.0;
    auto const* const begin = word.data() + (word.starts_with('+') ? 1 : 0);
    auto const result = std::from_chars(begin, word.data() + word.size(), value);
    if (result.ec != std::errc{} || result.ptr != word.data() + word.size()) wrong("a number, not " + word);
    return value;
}

double Words::number_in(std::string_view unit) {
    auto const value = number();
    must(unit);
    return value;
}

void Words::must(std::string_view word) {
    if (!take(word)) wrong(word);
}

void Words::end() {
    if (!empty()) wrong("the end of the line, not " + std::string{peek()});
}

void Words::wrong(std::string_view wanted) {
    if (!fault_) fault_ = "wanted " + std::string{wanted};
}

}  // namespace phasewright::cases
