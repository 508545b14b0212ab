#include "bus/profile/clock.hpp"

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>

#include <fmt/format.h>

#include "bus/profile/decode.hpp"
#include "bus/profile/encode.hpp"

namespace phasewright::profile {

namespace {
constexpr double last_second = 253402300799.0;  // the end of the year 9999
}

CivilTime civil_time(double seconds) {
    double const bounded = std::isfinite(seconds) ? std::floor(std::clamp(seconds, 0.0, last_second)) : 0.0;
    std::chrono::sys_seconds const whole{std::chrono::seconds{static_cast<long long>(bounded)}};
    auto const day = std::chrono::floor<std::chrono::days>(whole);
    std::chrono::year_month_day const date{day};
    std::chrono::hh_mm_ss const time{whole - day};
    return {.year = static_cast<int>(date.year()),
            .month = static_cast<int>(static_cast<unsigned>(date.month())),
            .day = static_cast<int>(static_cast<unsigned>(date.day())),
            .hour = static_cast<int>(time.hours().count()),
            .minute = static_cast<int>(time.minutes().count()),
            .second = static_cast<int>(time.seconds().count())};
}

std::optional<double> seconds_of(CivilTime const& time) {
    if (time.year < 1970 || time.year > 9999 || time.month < 1 || time.day < 1) return std::nullopt;
    std::chrono::year_month_day const date{std::chrono::year{time.year},
                                           std::chrono::month{static_cast<unsigned>(time.month)},
                                           std::chrono::day{static_cast<unsigned>(time.day)}};
    bool const is_time = time.hour >= 0 && time.hour < 24 && time.minute >= 0 && time.minute < 60 &&
                         time.second >= 0 && time.second < 60;
    if (!date.ok() || !is_time) return std::nullopt;
    auto const days = std::chrono::sys_days{date}.time_since_epoch().count();
    return 86400.0 * static_cast<double>(days) + 3600.0 * time.hour + 60.0 * time.minute + time.second;
}

std::string clock_text(double seconds) {
    auto const t = civil_time(seconds);
    return fmt::format("{:04}-{:02}-{:02} {:02}:{:02}:{:02}", t.year, t.month, t.day, t.hour, t.minute,
                       t.second);
}

std::optional<double> clock_in(ClockParts const& clock, RegisterImage const& image) {
    if (clock.seconds) return value_of(*clock.seconds, image);
    std::array<int, 6> numbers{};
    for (std::size_t at = 0; at < numbers.size(); ++at) {
        auto const& part = clock.parts.at(at);
        auto const value = part ? value_of(*part, image) : std::nullopt;
        if (!value || std::abs(*value) > 65535.0) return std::nullopt;
        numbers.at(at) = static_cast<int>(*value);
    }
    auto const& [year, month, day, hour, minute, second] = numbers;
    return seconds_of({year + clock.year_zero, month, day, hour, minute, second});
}

void put_clock(RegisterImage& image, ClockParts const& clock, double seconds) {
    if (clock.seconds) return put_value(image, *clock.seconds, std::floor(seconds));
    auto const time = civil_time(seconds);
    std::array const numbers{
        time.year - clock.year_zero, time.month, time.day, time.hour, time.minute, time.second};
    for (std::size_t at = 0; at < numbers.size(); ++at) {
        if (clock.parts.at(at)) put_value(image, *clock.parts.at(at), numbers.at(at));
    }
}

}  // namespace phasewright::profile
