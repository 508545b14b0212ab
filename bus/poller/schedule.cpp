#include "bus/poller/schedule.hpp"

#include <algorithm>
#include <cmath>

namespace phasewright::poller {

Schedule::Schedule(std::size_t meters, ScheduleSettings settings, double start_s)
    : settings_(settings), meters_(meters, Meter{start_s, 0}) {
    settings_.interval_s = std::max(settings_.interval_s, 0.001);
}

Schedule::Turn Schedule::next() const {
    auto const first = std::ranges::min_element(meters_, {}, &Meter::due_s);
    return {static_cast<std::size_t>(first - meters_.begin()), first->due_s};
}

int Schedule::move_on(Meter& meter, double wait_s, double now_s) const {
    double const interval = settings_.interval_s;
    // The last moment of the grid that has come already: asked as soon as the line is free.
    double const passed = meter.due_s + interval * std::floor((now_s - meter.due_s) / interval);
    double const next = meter.due_s + interval * std::max(1.0, std::round(wait_s / interval));
    meter.due_s = std::max(next, passed);
    return static_cast<int>(std::lround(std::max(0.0, passed - next) / interval));
}

int Schedule::answered(std::size_t meter, double now_s) {
    meters_[meter].failures = 0;
    return move_on(meters_[meter], settings_.interval_s, now_s);
}

int Schedule::failed(std::size_t meter, double now_s) {
    auto& one = meters_[meter];
    ++one.failures;
    int const doublings = std::clamp(one.failures - settings_.failures_until_rare + 1, 0, 30);
    double const longest = std::max(settings_.longest_wait_s, settings_.interval_s);
    double const wait = std::min(settings_.interval_s * std::exp2(doublings), longest);
    return move_on(one, wait, now_s);
}

void Schedule::postponed(std::size_t meter, double now_s) {
    (void)move_on(meters_[meter], settings_.interval_s, now_s);
}

void Schedule::resumed(double now_s) {
    for (auto& meter : meters_)
        if (meter.due_s < now_s)
            meter.due_s += settings_.interval_s * std::floor((now_s - meter.due_s) / settings_.interval_s);
}

double Backoff::next_s() {
    double const now = next_s_;
    next_s_ = std::min(2.0 * next_s_, longest_s_);
    return now;
}

}  // namespace phasewright::poller
