// What comes back to the head of a serial line for the bytes that it sent, and when: every device hears the
// question through its part of the pair, those that understand it answer after their own delay, and what two
// say at once collides. Pure: time is an argument, chance comes from the seed and the number of the question.
#pragma once
#include <cstdint>
#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "bus/codec/bytes.hpp"
#include "bus/twin/manners.hpp"
#include "bus/twin/pair.hpp"

namespace phasewright::twin {

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

    // The head sends `question` at `format`, its first character beginning at `start_s`. In the order in
    // which the head's receiver has them, its own echo included.
    [[nodiscard]] std::vector<TimedByte> respond(codec::BytesView question, plan::SerialFormat const& format,
                                                 double start_s);
    [[nodiscard]] Pair const& pair() const { return pair_; }
    void lay(Pair pair) { pair_ = std::move(pair); }  // anew, between two questions
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
