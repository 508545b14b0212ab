// Events on their way to a listener that has its own pace. The queue never holds up a line: when it is full
// the oldest event goes, and the listener is told how many went with the next event it takes out.
#pragma once
#include <condition_variable>
#include <cstddef>
#include <deque>
#include <mutex>
#include <optional>

#include "bus/poller/event.hpp"

namespace phasewright::poller {

class EventQueue {
public:
    explicit EventQueue(std::size_t capacity) : capacity_(capacity == 0 ? 1 : capacity) {}

    void push(Event event);
    // The next event; nothing when none came within the wait, or when the queue is closed and empty.
    [[nodiscard]] std::optional<Event> pop(double wait_s);
    void close();                         // no more will come; whoever waits is woken
    [[nodiscard]] bool finished() const;  // closed and empty

private:
    std::size_t capacity_;
    mutable std::mutex mutex_;
    std::condition_variable came_;
    std::deque<Event> events_;
    std::size_t dropped_ = 0;
    bool closed_ = false;
};

}  // namespace phasewright::poller
