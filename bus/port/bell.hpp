// A bell that any thread may ring to end another thread's wait. It keeps ringing until it is hushed, so a wait that
// begins after the ring ends at once as well: nothing is lost between two waits.
// Linux: an eventfd (eventfd(2)) beside the descriptor that is waited for, both in one ppoll(2).
#pragma once
#include <atomic>
#include <mutex>

#include "bus/port/channel.hpp"

namespace phasewright::port {

class Bell {
public:
    Bell();
    ~Bell();
    Bell(Bell const&) = delete;
    Bell& operator=(Bell const&) = delete;

    void ring() noexcept;
    void hush() noexcept;
    [[nodiscard]] bool rung() const noexcept { return rung_; }
    [[nodiscard]] int descriptor() const noexcept { return descriptor_; }

private:
    int descriptor_;
    std::atomic<bool> rung_ = false;
    std::mutex mutex_;  // flag and descriptor change together
};

enum class Woke { ready, deadline, bell };  // ready also where the descriptor has failed: its next use tells why

// Waits until `descriptor` can be read (or written). A descriptor below zero is only waited with.
enum class Await { readable, writable };
[[nodiscard]] Woke wait_for(int descriptor, Await what, Bell const& bell, SteadyTime deadline);

}  // namespace phasewright::port
