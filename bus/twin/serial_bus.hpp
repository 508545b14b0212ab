// What comes back to the head of a serial line for the bytes that it sent, and when: every device hears the question
// through its part of the pair, those that understand it answer after their own delay, and what two say at once
// collides. Pure: time is an argument, chance comes from the seed and the number of the question.
#pragma once
#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "bus/codec/bytes.hpp"
#include "bus/twin/pair.hpp"

namespace phasewright::twin {

// How a device on the line behaves, beside what it measures.
struct BusManners {
    plan::SerialFormat format;       // as it is really set
    double answer_delay_s = 0.02;    // beyond t3.5
    double answer_jitter_s = 0.0;    // at most so much more, another each time
    int late_every = 0;              // every so many-th answer comes `late_s` later; 0: never
    double late_s = 0.0;
    int wrong_crc_every = 0;
    int truncated_every = 0;         // only the first half of the frame is sent
    int busy_every = 0;              // exception 06 instead of an answer
    double gap_inside_s = 0.0;       // a pause in the middle of the frame
};

struct BusDevice {
    std::string name;
    int position = 1;
    int unit = 1;
    BusManners manners;
    std::function<codec::Bytes(codec::BytesView pdu, double time_s)> answer;
};

struct TimedByte {
    double at_s = 0.0;  // when its last bit has passed at the head
    std::byte value{};
};

class SerialBus {
public:
    SerialBus(Pair pair, std::vector<BusDevice> devices, std::uint64_t seed);

    // The head sends `question` at `format`, its first character beginning at `start_s`. In the order in which the
    // head's receiver has them, its own echo included.
    [[nodiscard]] std::vector<TimedByte> respond(codec::BytesView question, plan::SerialFormat const& format,
                                                 double start_s);
    [[nodiscard]] Pair const& pair() const { return pair_; }
    [[nodiscard]] std::vector<BusDevice>& devices() { return devices_; }

private:
    struct Spoken;
    [[nodiscard]] std::vector<Spoken> spoken(codec::BytesView question, plan::SerialFormat const& format,
                                             double heard_at_s);

    Pair pair_;
    std::vector<BusDevice> devices_;
    std::uint64_t seed_;
    std::uint64_t questions_ = 0;
    std::vector<int> answers_;  // of each device so far
};

}  // namespace phasewright::twin
