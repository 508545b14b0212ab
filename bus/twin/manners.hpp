// How a device behaves on the bus, beside what it measures: how long it takes to answer, and what becomes of
// every so many-th answer. Its answers are counted from 1, so that what happens depends on what was asked and
// on no clock.
#pragma once
#include "core/plan/serial_line.hpp"

namespace phasewright::twin {

struct BusManners {
    plan::SerialFormat format;     // as it is really set
    double answer_delay_s = 0.02;  // beyond t3.5
    double answer_jitter_s = 0.0;  // at most so much more, another each time
    int late_every = 0;            // every so many-th answer comes `late_s` later; 0: never
    double late_s = 0.0;
    int wrong_crc_every = 0;
    int truncated_every = 0;    // only the first half of the frame is sent
    int busy_every = 0;         // exception 06 instead of an answer
    double gap_inside_s = 0.0;  // a pause in the middle of the frame
};

// What is the matter with one answer.
struct Turn {
    bool late = false;
    bool wrong_crc = false;
    bool truncated = false;
    bool busy = false;
};
[[nodiscard]] Turn turn_of(BusManners const& manners, int number);

}  // namespace phasewright::twin
