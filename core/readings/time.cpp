#include <chrono>

#include "core/readings/check.hpp"

namespace phasewright::readings {

namespace {
// Takes a fixed number of digits from the front.
std::optional<int> digits(std::string_view& text, std::size_t count) {
    if (text.size() < count) return std::nullopt;
    int value = 0;
    for (std::size_t k = 0; k < count; ++k) {
        if (text[k] < '0' || text[k] > '9') return std::nullopt;
        value = 10 * value + (text[k] - '0');
    }
    text.remove_prefix(count);
    return value;
}
bool take(std::string_view& text, char wanted) {
    if (text.empty() || text.front() != wanted) return false;
    text.remove_prefix(1);
    return true;
}

double fraction(std::string_view& text) {
    double value = 0.0;
    double place = 0.1;
    while (!text.empty() && text.front() >= '0' && text.front() <= '9') {
        value += place * (text.front() - '0');
        place /= 10.0;
        text.remove_prefix(1);
    }
    return value;
}

// "Z", "+02:00", "+0200", "+02" or nothing; in seconds.
std::optional<int> offset(std::string_view text) {
    if (text.empty() || text == "Z" || text == "z") return 0;
    int const sign = text.front() == '-' ? -1 : 1;
    if (text.front() != '+' && text.front() != '-') return std::nullopt;
    text.remove_prefix(1);
    auto const hours = digits(text, 2);
    if (!hours || *hours > 14) return std::nullopt;
    if (text.empty()) return sign * *hours * 3600;
    take(text, ':');
    auto const minutes = digits(text, 2);
    if (!minutes || *minutes > 59 || !text.empty()) return std::nullopt;
    return sign * (*hours * 3600 + *minutes * 60);
}

std::optional<std::chrono::sys_days> date(std::string_view& text) {
    auto const year = digits(text, 4);
    if (!year || !take(text, '-')) return std::nullopt;
    auto const month = digits(text, 2);
    if (!month || !take(text, '-')) return std::nullopt;
    auto const day = digits(text, 2);
    if (!day) return std::nullopt;
    std::chrono::year_month_day const calendar{std::chrono::year{*year},
                                               std::chrono::month{static_cast<unsigned>(*month)},
                                               std::chrono::day{static_cast<unsigned>(*day)}};
    if (!calendar.ok()) return std::nullopt;
    return std::chrono::sys_days{calendar};
}
}  // namespace

std::optional<double> seconds_of(std::string_view iso_time) {
    auto text = iso_time;
    auto const day = date(text);
    if (!day || !(take(text, 'T') || take(text, 't') || take(text, ' '))) return std::nullopt;
    auto const hour = digits(text, 2);
    if (!hour || *hour > 24 || !take(text, ':')) return std::nullopt;
    auto const minute = digits(text, 2);
    if (!minute || *minute > 59) return std::nullopt;
    double second = 0.0;
    if (take(text, ':')) {
        auto const whole = digits(text, 2);
        if (!whole || *whole > 60) return std::nullopt;
        second = *whole;
        if (take(text, '.') || take(text, ',')) second += fraction(text);
    }
    auto const from_utc = offset(text);
    if (!from_utc) return std::nullopt;
    return static_cast<double>(day->time_since_epoch().count()) * 86400.0 + *hour * 3600.0 + *minute * 60.0 +
           second - *from_utc;
}

}  // namespace phasewright::readings
