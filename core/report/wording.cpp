#include "core/report/wording.hpp"

#include <cmath>

#include "core/quantity/text.hpp"

namespace phasewright::report {

using quantity::fixed;

std::string percent(double probability) {
    if (!(probability >= 0.0005)) return "below 0.1 %";
    if (probability > 0.9995) return "more than 99.9 %";
    return fixed(100.0 * probability, 1) + " %";
}

std::string power_words(double value, std::string_view unit) {
    double scaled = value;
    std::string prefix;
    if (std::abs(value) >= 999'500.0) {
        scaled = value / 1e6;
        prefix = "M";
    } else if (std::abs(value) >= 999.5) {
        scaled = value / 1e3;
        prefix = "k";
    }
    double const size = std::abs(scaled);
    int const decimals = size >= 99.95 ? 0 : size >= 9.995 ? 1 : 2;
    return fixed(scaled, decimals) + " " + prefix + std::string(unit);
}

std::string closed(std::string_view words) {
    std::string text(words);
    if (!text.empty() && std::string_view{".?!:"}.find(text.back()) == std::string_view::npos) text += '.';
    return text;
}

std::string sentence(std::string_view words) {
    auto text = closed(words);
    if (!text.empty() && text.front() >= 'a' && text.front() <= 'z')
        text.front() = static_cast<char>(text.front() - 'a' + 'A');
    return text;
}

std::string clause(std::string_view words) {
    while (!words.empty() && (words.back() == '.' || words.back() == ' ')) words.remove_suffix(1);
    return std::string(words);
}

std::string date_words(std::string_view iso) {
    auto const at = iso.find('T');
    if (at == std::string_view::npos || iso.size() < at + 6) return std::string(iso);
    auto const zone = iso.find_first_of("+-Z", at);
    std::string text(iso.substr(0, at));
    text += ' ';
    text += iso.substr(at + 1, 5);
    if (zone != std::string_view::npos) {
        text += ' ';
        text += iso.substr(zone) == "Z" ? std::string_view{"UTC"} : iso.substr(zone);
    }
    return text;
}

}  // namespace phasewright::report
