// Which meter of a line is asked next, and when. Each meter has its own grid of moments, one interval apart.
// What comes late is asked as soon as the line is free, and moments that have passed are not made up for. A
// meter that fails again and again is asked less often, up to a longest wait, and never forgotten. Time is an
// argument; the same calls give the same schedule.
#pragma once
#include <cstddef>
#include <vector>

namespace phasewright::poller {

struct ScheduleSettings {
    double interval_s = 5.0;
    int failures_until_rare = 3;   // from so many failures in a row on, the wait doubles with each
    double longest_wait_s = 60.0;  // between two questions to a meter that fails; never below the interval
};

class Schedule {
public:
    Schedule(std::size_t meters, ScheduleSettings settings, double start_s);

    struct Turn {
        std::size_t meter = 0;
        double due_s = 0.0;
    };
    [[nodiscard]] Turn next() const;  // there is at least one meter

    // The meter was asked, and this is the time now. Returns how many of its moments were passed over.
    int answered(std::size_t meter, double now_s);
    int failed(std::size_t meter, double now_s);
    // The line was lost: the meter is neither good nor bad, and is due again one interval on.
    void postponed(std::size_t meter, double now_s);
    // The line is there again: moments that passed without it are nobody's fault, and the last of them is due
    // now.
    void resumed(double now_s);

    [[nodiscard]] int failures_in_a_row(std::size_t meter) const { return meters_[meter].failures; }

private:
    struct Meter {
        double due_s = 0.0;
        int failures = 0;
    };
    int move_on(Meter& meter, double wait_s, double now_s) const;

    ScheduleSettings settings_;
    std::vector<Meter> meters_;
};

// How long to wait before a lost line is tried again.
class Backoff {
public:
    explicit Backoff(double first_s = 0.5, double longest_s = 30.0)
        : first_s_(first_s), longest_s_(longest_s), next_s_(first_s) {}
    [[nodiscard]] double next_s();  // each time twice as long, up to the longest
    void reset() { next_s_ = first_s_; }

private:
    double first_s_, longest_s_, next_s_;
};

}  // namespace phasewright::poller
