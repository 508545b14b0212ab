// Modbus RTU over a channel as a line. A question waits until the line has been silent for t3.5; the answer is whole
// when as many bytes have come as its head announces, or when a silence ends it. Nothing that came is thrown away
// before it was shown: bus diagnosis needs the raw bytes and their times (`Exchange`).
// Nothing in an answer says to which question it belongs. After a question that stayed unanswered its answer may still
// come, so that unit is asked nothing new before it has come or twice the answer timeout is over; only a further try of
// the same question goes out at once.
// Source: MODBUS over Serial Line V1.02, clauses 2.4 and 2.5.1.
#pragma once
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <vector>

#include "bus/port/channel.hpp"
#include "bus/port/line.hpp"

namespace phasewright::port {

// One question as it really went over the wire, a try at a time.
struct Exchange {
    struct Arrival {
        double after_s = 0.0;   // since the last byte of the question can have left
        std::size_t bytes = 0;  // how many came then
    };
    std::uint8_t unit = 0;
    codec::Bytes sent;   // the whole frame
    codec::Bytes heard;  // everything that came until the answer was judged, an echo included
    std::vector<Arrival> arrivals;
    std::size_t echoed = 0;              // so many of the first bytes heard are the question itself, come back
    std::optional<codec::Fault> fault;   // empty: a good answer
    codec::Bytes before;                 // what came before the question was sent: late answers, noise
};
using ExchangeListener = std::function<void(Exchange const&)>;

struct RtuSettings {
    plan::SerialFormat format;    // gaps are timed by it, also where the channel has no format of its own
    int answer_timeout_ms = 1000;  // until the first byte of the answer
    int tries = 2;                 // at least one; what was refused is not asked again
    int budget_ms = 0;             // all tries of one question together; 0: tries alone decide
    bool echoes = false;           // the adapter hears itself: the question is taken off before the answer. The line
                                   // also learns it, from the first question that comes back whole.
    ExchangeListener listener;     // told of every try, on the asking thread
};

[[nodiscard]] std::unique_ptr<Line> rtu_line(std::unique_ptr<Channel> channel, RtuSettings settings);

// Listens without sending. What was heard comes back as it came; `until` may end it early.
struct Overheard {
    codec::Bytes bytes;
    std::vector<Exchange::Arrival> arrivals;  // since listening began
};
[[nodiscard]] std::expected<Overheard, codec::Fault> listen(Channel& channel, double seconds,
                                                            std::function<bool(Overheard const&)> const& until = {});

}  // namespace phasewright::port
