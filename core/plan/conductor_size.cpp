#include "core/plan/conductor_size.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <numbers>

#include "core/quantity/text.hpp"

namespace phasewright::plan {

namespace {
constexpr double kcmil_mm2 = 0.506707;
constexpr double most_mm2 = 3000.0;
constexpr double most_kcmil = 3000.0;

constexpr std::array metric_series{0.5,  0.75, 1.0,  1.5,   2.5,   4.0,   6.0,   10.0,  16.0,  25.0,  35.0,
                                   50.0, 70.0, 95.0, 120.0, 150.0, 185.0, 240.0, 300.0, 400.0, 500.0, 630.0};
// Building-wire sizes above 4/0: NEC Chapter 9 Table 8 (read in a reprint up to 500; 600 to 750 from memory).
constexpr std::array kcmil_series{250.0, 300.0, 350.0, 400.0, 500.0, 600.0, 700.0, 750.0};

// Small letters, no blanks, a full stop for a decimal comma, "mm2" for the raised two.
std::string plain(std::string_view text) {
    std::string all;
    for (char const c : text) {
        if (c == ' ' || c == '\t') continue;
        if (c >= 'A' && c <= 'Z') all += static_cast<char>(c - 'A' + 'a');
        else all += c == ',' ? '.' : c;
    }
    for (std::string_view const raised : {"\xC2\xB2", "^2"})  // U+00B2
        if (auto const at = all.find(raised); at != std::string::npos) all.replace(at, raised.size(), "2");
    return all;
}

bool take_front(std::string& text, std::string_view part) {
    if (!text.starts_with(part)) return false;
    text.erase(0, part.size());
    return true;
}
bool take_back(std::string& text, std::string_view part) {
    if (!text.ends_with(part)) return false;
    text.erase(text.size() - part.size());
    return true;
}

std::optional<SizeUnit> take_unit(std::string& text) {
    for (std::string_view const word : {"sq.mm", "sqmm", "mm2", "mmq"})
        if (take_back(text, word)) return SizeUnit::mm2;
    for (std::string_view const word : {"kcmil", "mcm"})
        if (take_back(text, word)) return SizeUnit::kcmil;
    if (take_front(text, "awg") || take_back(text, "awg")) {
        (void)take_front(text, "#");
        return SizeUnit::awg;
    }
    if (take_front(text, "#")) return SizeUnit::awg;
    return std::nullopt;
}

std::optional<double> number_of(std::string_view text) {
    double value = 0.0;
    auto const parsed = std::from_chars(text.data(), text.data() + text.size(), value);
    if (text.empty() || parsed.ec != std::errc{} || parsed.ptr != text.data() + text.size()) return std::nullopt;
    return std::isfinite(value) ? std::optional{value} : std::nullopt;
}

std::optional<double> gauge_of(std::string_view text) {
    if (text.ends_with("/0")) {
        auto const noughts = number_of(text.substr(0, text.size() - 2));
        if (!noughts || *noughts < 1.0 || *noughts > 4.0 || *noughts != std::floor(*noughts)) return std::nullopt;
        return 1.0 - *noughts;
    }
    auto const gauge = number_of(text);
    if (!gauge || *gauge < 1.0 || *gauge > thinnest_awg || *gauge != std::floor(*gauge)) return std::nullopt;
    return gauge;
}
}  // namespace

std::optional<ConductorSize> conductor_size_of(std::string_view text, std::optional<SizeUnit> without_unit) {
    auto rest = plain(text);
    auto unit = take_unit(rest);
    if (!unit && rest.ends_with("/0")) unit = SizeUnit::awg;  // nothing else is written so
    if (!unit) unit = without_unit;
    if (!unit) return std::nullopt;
    auto const number = *unit == SizeUnit::awg ? gauge_of(rest) : number_of(rest);
    if (!number) return std::nullopt;
    double const most = *unit == SizeUnit::mm2 ? most_mm2 : most_kcmil;
    if (*unit != SizeUnit::awg && (*number <= 0.0 || *number > most)) return std::nullopt;
    return ConductorSize{*unit, *number};
}

std::string text_of(ConductorSize const& size) {
    switch (size.unit) {
        case SizeUnit::mm2: return quantity::shortest(size.number) + " mm2";
        case SizeUnit::kcmil: return quantity::shortest(size.number) + " kcmil";
        case SizeUnit::awg: break;
    }
    if (size.number > 0.0) return quantity::shortest(size.number) + " AWG";
    return quantity::shortest(1.0 - size.number) + "/0 AWG";
}

double area_mm2(ConductorSize const& size) {
    if (size.unit == SizeUnit::mm2) return size.number;
    if (size.unit == SizeUnit::kcmil) return size.number * kcmil_mm2;
    double const diameter_mm = 0.127 * std::pow(92.0, (36.0 - size.number) / 39.0);
    return std::numbers::pi * diameter_mm * diameter_mm / 4.0;
}

double solid_diameter_mm(ConductorSize const& size) { return std::sqrt(4.0 * area_mm2(size) / std::numbers::pi); }

std::optional<ConductorSize> metric_size_from(double area_mm2) {
    auto const found = std::ranges::lower_bound(metric_series, area_mm2);
    if (found == metric_series.end()) return std::nullopt;
    return ConductorSize{SizeUnit::mm2, *found};
}

std::optional<ConductorSize> awg_size_from(double area_mm2) {
    // Above 3 AWG the trade takes every gauge, below it only the even ones. Common practice, no source.
    for (int gauge = 24; gauge >= thickest_awg; gauge -= gauge > 4 ? 2 : 1) {
        ConductorSize const size{SizeUnit::awg, static_cast<double>(gauge)};
        if (plan::area_mm2(size) >= area_mm2) return size;
    }
    for (double const number : kcmil_series)
        if (number * kcmil_mm2 >= area_mm2) return ConductorSize{SizeUnit::kcmil, number};
    return std::nullopt;
}

}  // namespace phasewright::plan
