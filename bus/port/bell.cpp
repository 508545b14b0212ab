#include "bus/port/bell.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdint>

#include <poll.h>
#include <sys/eventfd.h>
#include <unistd.h>

namespace phasewright::port {

namespace {
constexpr auto longest_wait = std::chrono::hours(1);  // then the deadline is looked at again

timespec until(SteadyTime deadline) {
    auto const now = std::chrono::steady_clock::now();
    auto const left = deadline > now + longest_wait ? std::chrono::nanoseconds(longest_wait)
                                                    : std::chrono::nanoseconds(deadline - now);
    auto const count = std::max<std::int64_t>(left.count(), 0);
    return {.tv_sec = count / 1'000'000'000, .tv_nsec = count % 1'000'000'000};
}
}  // namespace

// Without a descriptor (too many open files) a wait ends late, at its deadline, but the flag still ends it.
Bell::Bell() : descriptor_(::eventfd(0, EFD_NONBLOCK | EFD_CLOEXEC)) {}
Bell::~Bell() {
    if (descriptor_ >= 0) ::close(descriptor_);
}

void Bell::ring() noexcept {
    std::scoped_lock const lock(mutex_);
    rung_ = true;
    std::uint64_t const one = 1;
    if (descriptor_ >= 0) (void)!::write(descriptor_, &one, sizeof one);
}

void Bell::hush() noexcept {
    std::scoped_lock const lock(mutex_);
    std::uint64_t count = 0;
    if (descriptor_ >= 0) (void)!::read(descriptor_, &count, sizeof count);
    rung_ = false;
}

Woke wait_for(int descriptor, Await what, Bell const& bell, SteadyTime deadline) {
    std::array<pollfd, 2> waiting{{{.fd = bell.descriptor(), .events = POLLIN, .revents = 0},
                                   {.fd = descriptor,
                                    .events = static_cast<short>(what == Await::readable ? POLLIN : POLLOUT),
                                    .revents = 0}}};
    while (true) {
        if (bell.rung()) return Woke::bell;
        auto const left = until(deadline);
        int const count = ::ppoll(waiting.data(), waiting.size(), &left, nullptr);
        if (bell.rung()) return Woke::bell;
        if (count > 0 && waiting[1].revents != 0) return Woke::ready;
        // A bell that was rung and hushed meanwhile has nothing to say any more.
        if (count <= 0 && std::chrono::steady_clock::now() >= deadline) return Woke::deadline;
    }
}

}  // namespace phasewright::port
