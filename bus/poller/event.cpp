#include "bus/poller/event.hpp"

#include <chrono>
#include <cmath>

#include <fmt/format.h>

namespace phasewright::poller {

std::string_view name_of(NoteKind kind) {
    switch (kind) {
        case NoteKind::out_of_range: return "out_of_range";
        case NoteKind::over_current: return "over_current";
        case NoteKind::voltage_step: return "voltage_step";
        case NoteKind::stale: return "stale";
        case NoteKind::changing_again: return "changing_again";
        case NoteKind::zero_glitch: return "zero_glitch";
        case NoteKind::counter_wrapped: return "counter_wrapped";
        case NoteKind::counter_reset: return "counter_reset";
        case NoteKind::counter_went_back: return "counter_went_back";
        case NoteKind::counter_jumped: return "counter_jumped";
        case NoteKind::meter_silent: return "meter_silent";
        case NoteKind::meter_refuses: return "meter_refuses";
        case NoteKind::meter_back: return "meter_back";
        case NoteKind::line_lost: return "line_lost";
        case NoteKind::line_back: return "line_back";
        case NoteKind::round_too_long: return "round_too_long";
        case NoteKind::events_dropped: return "events_dropped";
    }
    return "unknown";
}

std::string utc_text(double unix_s) {
    auto const whole_ms = static_cast<long long>(std::floor(unix_s * 1000.0 + 0.5));
    std::chrono::sys_time<std::chrono::milliseconds> const moment{std::chrono::milliseconds{whole_ms}};
    auto const day = std::chrono::floor<std::chrono::days>(moment);
    std::chrono::year_month_day const date{day};
    std::chrono::hh_mm_ss const clock{moment - day};
    return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}.{:03}Z", static_cast<int>(date.year()),
                       static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()),
                       clock.hours().count(), clock.minutes().count(), clock.seconds().count(),
                       clock.subseconds().count());
}

}  // namespace phasewright::poller
