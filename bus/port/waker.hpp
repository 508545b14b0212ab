// Waiting for a file descriptor, and ending that wait from another thread: an eventfd beside it in poll().
#pragma once
#include <atomic>

#include "bus/port/channel.hpp"

namespace phasewright::port {

class Waker {
public:
    Waker();
    ~Waker();
    Waker(Waker const&) = delete;
    Waker& operator=(Waker const&) = delete;
    Waker(Waker&&) = delete;
    Waker& operator=(Waker&&) = delete;

    void cancel() noexcept;
    void resume() noexcept;
    [[nodiscard]] bool cancelled() const noexcept { return cancelled_; }

    enum class Woke { ready, deadline, cancelled, hung_up };
    enum class For { reading, writing };
    // `hung_up`: the other end is gone and nothing is left to read.
    [[nodiscard]] Woke wait(int descriptor, For what, SteadyTime deadline) const;

private:
    int event_ = -1;
    std::atomic<bool> cancelled_ = false;
};

// Sends all bytes and receives what is there, over a non-blocking descriptor; faults: closed, cancelled, and for sending
// no_answer when the other side takes nothing until the deadline.
[[nodiscard]] std::expected<void, codec::Fault> send_all(int descriptor, codec::BytesView bytes, SteadyTime deadline,
                                                         Waker const& waker);
[[nodiscard]] std::expected<Piece, codec::Fault> receive_some(int descriptor, SteadyTime deadline, Waker const& waker);

}  // namespace phasewright::port
