// Words that files are written in, one table an enum: word_table(Enum) stands beside the enum, and from it come the word
// of a value, the value of a word and the list for "allowed". A word that has been written stays for ever.
#pragma once
#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace phasewright::plan {

template <class Enum, std::size_t N>
using Words = std::array<std::pair<Enum, std::string_view>, N>;

template <class Enum>
concept HasWords = requires { word_table(Enum{}); };

// "unknown" for a value that files do not write.
template <HasWords Enum>
[[nodiscard]] constexpr std::string_view name_of(Enum value) {
    for (auto const& [known, word] : word_table(value))
        if (known == value) return word;
    return "unknown";
}
template <HasWords Enum>
[[nodiscard]] constexpr std::optional<Enum> meant_by(std::string_view word) {
    for (auto const& [known, name] : word_table(Enum{}))
        if (name == word) return known;
    return std::nullopt;
}
template <HasWords Enum>
[[nodiscard]] std::vector<std::string> words_for() {
    std::vector<std::string> words;
    for (auto const& [known, word] : word_table(Enum{})) words.emplace_back(word);
    return words;
}

}  // namespace phasewright::plan
