// Many lines at once, one thread a line; on a line one meter after the other. A line that is lost (unplugged,
// closed, in use by another master) is told once and opened again after a growing wait; a meter that is
// silent is told once, asked less often, and not forgotten. stop() ends every wait at once. What happens when
// is decided by pure parts with a clock as an argument: schedule.hpp, sanity.hpp, counter.hpp.
#pragma once
#include <expected>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "bus/codec/fault.hpp"
#include "bus/poller/event.hpp"
#include "bus/poller/sanity.hpp"
#include "bus/poller/schedule.hpp"
#include "bus/port/line.hpp"

namespace phasewright::poller {

// What one read of one meter gave, with the line's times of its measured registers.
struct MeterNumbers {
    readings::Snapshot snapshot;
    std::vector<Counter> counters;
    double begun_s = 0.0;
    double ended_s = 0.0;
};

struct PolledMeter {
    std::string point;
    // Reads the meter once. Called on the line's thread only; it may keep what it has learnt of the meter.
    std::function<std::expected<MeterNumbers, codec::Fault>(port::Line& line)> read;
    Expected expected;
};

// Makes the line, on its own thread: at the start, and again whenever it was lost. A serial line listens
// first, so it may take long; it must return soon after `stopped` says true.
using LineOpener = std::function<std::expected<std::unique_ptr<port::Line>, codec::Fault>(
    std::function<bool()> const& stopped)>;

struct PolledLine {
    std::string id;
    LineOpener open;
    std::vector<PolledMeter> meters;
};

struct PollerSettings {
    ScheduleSettings schedule;
    SanityLimits sanity;
    double first_backoff_s = 0.5;
    double longest_backoff_s = 30.0;
};

// Told of every event, in the order of each meter, by one thread at a time. It must not wait: a listener with
// its own pace takes an EventQueue.
using Listener = std::function<void(Event const&)>;

class Poller {
public:
    Poller(std::vector<PolledLine> lines, PollerSettings const& settings, Listener listener);
    Poller(Poller const&) = delete;
    Poller& operator=(Poller const&) = delete;
    Poller(Poller&&) = delete;
    Poller& operator=(Poller&&) = delete;
    ~Poller();  // stops

    void start();  // once
    void stop();  // from any thread but a listener's; readings that were held back are told before it returns

private:
    class LineThread;
    std::vector<std::unique_ptr<LineThread>> threads_;
};

}  // namespace phasewright::poller
