#include "bus/poller/event_queue.hpp"

#include <chrono>

#include <fmt/format.h>

namespace phasewright::poller {

void EventQueue::push(Event event) {
    {
        std::lock_guard const guard(mutex_);
        if (closed_) return;
        if (events_.size() == capacity_) {
            events_.pop_front();
            ++dropped_;
        }
        events_.push_back(std::move(event));
    }
    came_.notify_one();
}

std::optional<Event> EventQueue::pop(double wait_s) {
    std::unique_lock lock(mutex_);
    came_.wait_for(lock, std::chrono::duration<double>(wait_s), [&] { return closed_ || !events_.empty(); });
    if (events_.empty()) return std::nullopt;
    if (dropped_ > 0) {
        // Told as of the oldest that is left: what is gone lay before it.
        auto const& [time, at_s] =
            std::visit([](auto const& event) { return std::pair(event.time, event.at_s); }, events_.front());
        Note note{NoteKind::events_dropped,
                  {},
                  {},
                  time,
                  at_s,
                  fmt::format("{} events were dropped: they came faster than they were taken", dropped_)};
        dropped_ = 0;
        return note;
    }
    auto event = std::move(events_.front());
    events_.pop_front();
    return event;
}

void EventQueue::close() {
    {
        std::lock_guard const guard(mutex_);
        closed_ = true;
    }
    came_.notify_all();
}

bool EventQueue::finished() const {
    std::lock_guard const guard(mutex_);
    return closed_ && events_.empty();
}

}  // namespace phasewright::poller
