// A meter's clock: six numbers or one, in UTC or in local time, as seconds since 1970-01-01 00:00 of the same
// calendar. The calendar is the civil one (Gregorian), days have 86 400 s; leap seconds do not exist here, as
// in POSIX time (IEEE Std 1003.1, "Seconds Since the Epoch").
#pragma once
#include <optional>
#include <string>

#include "bus/profile/setting.hpp"

namespace phasewright::profile {

struct CivilTime {
    int year = 1970, month = 1, day = 1, hour = 0, minute = 0, second = 0;
};
[[nodiscard]] CivilTime civil_time(double seconds);
// Empty when there is no such date or time: 30 February, 25 o'clock.
[[nodiscard]] std::optional<double> seconds_of(CivilTime const& time);
[[nodiscard]] std::string clock_text(double seconds);  // "2026-05-20 08:00:00"

[[nodiscard]] std::optional<double> clock_in(ClockParts const& clock, RegisterImage const& image);
void put_clock(RegisterImage& image, ClockParts const& clock, double seconds);

}  // namespace phasewright::profile
