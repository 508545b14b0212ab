// What the diagnosis of a line goes by: what came back from every planned device, what was heard before, and what
// somebody measured by hand.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bus/port/rtu_line.hpp"
#include "core/plan/serial_line.hpp"

namespace phasewright::linefault {

// One try in one word. A refusal counts as good: the line did its part.
enum class Came {
    good,
    nothing,
    bad_checksum,  // the head and the length of the answer, and a wrong checksum
    garbage,       // bytes that make no frame
    late,          // a good answer after the planned wait
    two_answers,   // the head of the answer twice, or much more than one answer's bytes
    foreign,       // a whole frame that nobody was asked for: another master's question, another unit's answer
    inverted,      // zeros only, or a frame once every bit is turned over: a pair exchanged under an idle line
    other_speed,   // bits that come in pairs and more: a sender that is slower than the port listens
    after_stray,   // a good answer behind a byte or two that nobody sent: the pair was held by nobody for a moment
};
inline constexpr std::size_t kinds_of_came = 10;
[[nodiscard]] std::string_view name_of(Came came);

struct Seen {
    Came came = Came::nothing;
    bool echoed = false;  // the question itself came back first
};
// `answer_timeout_s` is the planned one: what began after it was late, even where it was waited for longer.
[[nodiscard]] Seen seen_in(port::Exchange const& exchange, double answer_timeout_s);

struct Device {
    std::uint8_t unit = 1;
    std::string name;   // for people
    int position = 0;   // along the line, 1 nearest to the head; 0: not known
};

struct Try {
    std::size_t device = 0;  // its place in `devices`
    Came came = Came::nothing;
    bool echoed = false;
    bool other_format = false;  // asked in another format than the planned one
};

struct IdleVolts {
    double volts = 0.0;  // D1 minus D0, line powered and silent
    int position = 0;    // at which device's terminals; 0: at the head
};
struct ByHand {
    std::vector<IdleVolts> idle;
    std::optional<double> ohms;      // across the pair at the head, everything on it without supply; infinite: open
    std::optional<double> common_v;  // between the commons of the two ends, volts of either sign
};

struct Evidence {
    plan::SerialFormat format;
    double length_m = 0.0;  // of the trunk; 0: not known
    std::vector<Device> devices;
    std::vector<Try> tries;
    ByHand by_hand;
    std::optional<bool> heard_before;                   // bytes while nothing was asked
    std::optional<std::vector<std::uint8_t>> strangers;  // all addresses were searched, and these were not planned
};

// Devices sorted by their positions; false when one of them has none, and the order says nothing.
[[nodiscard]] bool in_order(std::vector<Device>& devices);

}  // namespace phasewright::linefault
