// How long it takes to read every meter of a serial line once: the poll round. Two wires carry one frame at a
// time, so the round is a sum.
//   one read of n registers = silence + 8 c + answer delay + (5 + 2 n) c
//     c             one character (11 bits by the specification)
//     silence       t3.5 before the question
//     8, 5 + 2 n    bytes of the question and of its answer (functions 3 and 4)
//     answer delay  from the question's last bit to the answer's first: t3.5 at least, or the device could
//     not know
//                   that the question had ended
//   a meter that is silent  = tries * (silence' + 8 c + timeout), asked every k-th round; the wait itself is
//   silence,
//                   so silence' is t3.5 only before the first try
// Assumes that devices keep their answers in one piece and that nobody else talks.
// Source: MODBUS over Serial Line V1.02, clauses 2.4.1, 2.5.1 and 2.5.1.1; MODBUS Application Protocol
// V1.1b3, clause 6.3. docs/reference/poll-round.md
#pragma once
#include <array>
#include <string>
#include <vector>

#include "core/plan/read_grouping.hpp"
#include "core/plan/serial_line.hpp"

namespace phasewright::plan {

inline constexpr int question_bytes = 8;         // unit, function, address 2, count 2, CRC 2
inline constexpr int answer_overhead_bytes = 5;  // unit, function, byte count, CRC 2

struct PollDevice {
    std::string id;
    int unit = 1;
    std::vector<RegisterRun> wanted;
    ReadLimits limits;
    double answer_delay_s = 0.0;  // measured or stated; what is below t3.5 counts as t3.5
    double alive = 1.0;           // probability that it answers; 0: known to be dead
    int tries = 2;
    double answer_timeout_s = 1.0;
    int asked_every = 1;  // rounds, while it is silent
};

struct TimedRead {
    RegisterRun run;
    double silence_s = 0.0, question_s = 0.0, delay_s = 0.0, answer_s = 0.0;
    [[nodiscard]] double total_s() const { return silence_s + question_s + delay_s + answer_s; }
};

struct DeviceRound {
    std::string id;
    int unit = 1;
    std::vector<TimedRead> reads;
    int wanted_registers = 0;
    int fetched_registers = 0;
    double answering_s = 0.0;  // when it answers
    double silent_s = 0.0;     // when it does not, in a round in which it is asked
    double alive = 1.0;
    int asked_every = 1;
    [[nodiscard]] double expected_s() const;
};

struct PollRound {
    SerialFormat format;
    std::vector<DeviceRound> devices;
    double all_answer_s = 0.0;  // a round in which every device answers
    double expected_s =
        0.0;                 // the mean, silent devices with their probability and as often as they are asked
    double longest_s = 0.0;  // a round in which those that may be silent are asked and are silent
    double wire_s = 0.0;     // of all_answer_s, how long characters were on the wire
    int reads = 0;
};

[[nodiscard]] ReadCost cost_on(SerialFormat const& format, double answer_delay_s);  // in seconds
[[nodiscard]] TimedRead timed(RegisterRun const& run, SerialFormat const& format, double answer_delay_s);
[[nodiscard]] double silent_try_s(SerialFormat const& format,
                                  double answer_timeout_s);  // one try, its silence apart
[[nodiscard]] PollRound poll_round(SerialFormat const& format, std::vector<PollDevice> const& devices);

// 9600 and 19200 are required of every device, 19200 is its default (MODBUS over Serial Line V1.02,
// clause 3.2); the others are common practice, no source.
inline constexpr std::array usual_bit_rates{1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200};

struct SpeedFit {
    SerialFormat format;
    PollRound round;
    bool fits = false;         // the mean round is not longer than the interval
    double busy_share = 0.0;   // mean round / interval; above 1 it does not fit
    int least_interval_s = 1;  // the shortest whole number of seconds that fits
};
// The line as it is at each usual bit rate and its own, slowest first; parity and stop bits stay.
[[nodiscard]] std::vector<SpeedFit> speeds(SerialFormat const& format, std::vector<PollDevice> const& devices,
                                           double interval_s);

// "at 9600 this line needs 7.4 s a round; 19200: 3.9 s; a 5 s interval fits at 19200 and not at 9600"
[[nodiscard]] std::string words_of(std::vector<SpeedFit> const& speeds, SerialFormat const& own,
                                   double interval_s);

}  // namespace phasewright::plan
