#include "core/quantity/text.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <numeric>

namespace phasewright::quantity {

std::string fixed(double value, int decimals) {
    std::array<char, 400> buffer{};
    auto const end = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::fixed, decimals);
    std::string text(buffer.data(), end.ptr);
    bool const is_zero = text.find_first_not_of("-0.") == std::string::npos;
    return is_zero && text.starts_with('-') ? text.substr(1) : text;
}

std::string shortest(double value) {
    std::array<char, 64> buffer{};
    auto const end = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value);
    return {buffer.data(), end.ptr};
}

std::string with_sign(double value, int decimals) {
    auto const text = fixed(value, decimals);
    return text.starts_with('-') ? text : "+" + text;
}

std::string joined(std::vector<std::string> const& parts, std::string_view between) {
    std::string all;
    for (auto const& part : parts) {
        if (!all.empty()) all += between;
        all += part;
    }
    return all;
}

namespace {
std::size_t edit_distance(std::string_view a, std::string_view b) {
    std::vector<std::size_t> row(b.size() + 1);
    std::iota(row.begin(), row.end(), std::size_t{0});
    for (std::size_t i = 1; i <= a.size(); ++i) {
        std::size_t diagonal = row[0];
        row[0] = i;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            std::size_t const above = row[j];
            std::size_t const changed = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
            row[j] = std::min({row[j - 1] + 1, above + 1, changed});
            diagonal = above;
        }
    }
    return row.back();
}
}  // namespace

std::string nearest_word(std::string_view word, std::vector<std::string> const& known) {
    auto const nearest = std::ranges::min_element(known, {}, [&](auto const& w) { return edit_distance(word, w); });
    return nearest == known.end() ? std::string{} : *nearest;
}

}  // namespace phasewright::quantity
