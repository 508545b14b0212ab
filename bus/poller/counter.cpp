#include "bus/poller/counter.hpp"

#include <cmath>

#include <fmt/format.h>

namespace phasewright::poller {

namespace {

bool believable(double gained, CounterHabit const& habit, std::optional<double> most) {
    return gained >= 0.0 && (!most || gained <= *most + 2.0 * habit.step);
}

bool wraps_here(double before, double now, double wrap, CounterHabit const& habit,
                std::optional<double> most) {
    if (before >= wrap + habit.step || now < 0.0) return false;  // the stated wrap is not this register's
    if (most) return believable(now + wrap - before, habit, most);
    return before >= 0.9 * wrap && now <= 0.1 * wrap;
}

bool begins_anew(double before, double now, CounterHabit const& habit, std::optional<double> most) {
    if (now < 0.0) return false;
    return most ? believable(now, habit, most) : now <= 0.01 * before;
}

}  // namespace

CounterStep judged_step(double before, double now, CounterHabit const& habit, std::optional<double> most) {
    double const gained = now - before;
    if (habit.may_fall) {
        if (believable(std::abs(gained), habit, most)) return {gained, {}, {}};
        if (habit.wrap) {
            for (double const turned : {gained + *habit.wrap, gained - *habit.wrap}) {
                if (!believable(std::abs(turned), habit, most)) continue;
                return {turned, NoteKind::counter_wrapped,
                        fmt::format("ran over its end, from {} to {}", before, now)};
            }
        }
        return {{},
                NoteKind::counter_jumped,
                fmt::format("changed from {} to {}, more than the breaker carries", before, now)};
    }
    if (gained >= 0.0) {
        if (believable(gained, habit, most)) return {gained, {}, {}};
        return {{},
                NoteKind::counter_jumped,
                fmt::format("rose from {} to {}, more than the breaker carries", before, now)};
    }
    if (habit.wrap && wraps_here(before, now, *habit.wrap, habit, most)) {
        return {now + *habit.wrap - before, NoteKind::counter_wrapped,
                fmt::format("ran over its end at {}, from {} to {}", *habit.wrap, before, now)};
    }
    if (begins_anew(before, now, habit, most))
        return {now, NoteKind::counter_reset,
                fmt::format("began again at zero: {} before, {} now", before, now)};
    return {{},
            NoteKind::counter_went_back,
            fmt::format("went back from {} to {}: neither a wrap nor a reset", before, now)};
}

}  // namespace phasewright::poller
