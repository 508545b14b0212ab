#include "bus/port/waker.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdint>
#include <system_error>

#include <poll.h>
#include <sys/eventfd.h>
#include <sys/socket.h>
#include <unistd.h>

namespace phasewright::port {

namespace {
using codec::Fault;
using codec::FaultKind;
using std::chrono::steady_clock;

std::unexpected<Fault> failed(FaultKind kind, std::string detail) {
    return std::unexpected(Fault{.kind = kind, .detail = std::move(detail)});
}

std::string words_of_errno() { return std::system_category().message(errno); }

// Rounded up to the next nanosecond's timespec; never negative.
timespec time_left(SteadyTime deadline) {
    auto const left = std::max(deadline - steady_clock::now(), steady_clock::duration::zero());
    auto const whole = std::chrono::duration_cast<std::chrono::seconds>(left);
    return {.tv_sec = whole.count(), .tv_nsec = std::chrono::nanoseconds(left - whole).count()};
}

// A socket whose other end is gone must not end the program with a signal.
ssize_t put(int descriptor, codec::BytesView bytes) {
    auto const sent = send(descriptor, bytes.data(), bytes.size(), MSG_NOSIGNAL);
    if (sent >= 0 || errno != ENOTSOCK) return sent;
    return write(descriptor, bytes.data(), bytes.size());
}
}  // namespace

Waker::Waker() : event_(eventfd(0, EFD_NONBLOCK | EFD_CLOEXEC)) {}

Waker::~Waker() {
    if (event_ >= 0) close(event_);
}

void Waker::cancel() noexcept {
    cancelled_ = true;
    std::uint64_t const one = 1;
    // It can only fail when the counter is full, and then it wakes anyway.
    [[maybe_unused]] auto const written = write(event_, &one, sizeof one);
}

void Waker::resume() noexcept {
    std::uint64_t count = 0;
    [[maybe_unused]] auto const taken = read(event_, &count, sizeof count);
    cancelled_ = false;
}

Waker::Woke Waker::wait(int descriptor, For what, SteadyTime deadline) const {
    short const wanted = what == For::reading ? POLLIN : POLLOUT;
    std::array<pollfd, 2> both{pollfd{.fd = descriptor, .events = wanted, .revents = 0},
                               pollfd{.fd = event_, .events = POLLIN, .revents = 0}};
    while (true) {
        auto const left = time_left(deadline);
        int const ready = ppoll(both.data(), both.size(), &left, nullptr);
        if (ready < 0 && errno == EINTR) continue;
        if (cancelled_) return Woke::cancelled;
        if (ready <= 0) return Woke::deadline;
        if ((both[0].revents & wanted) != 0) return Woke::ready;
        if ((both[0].revents & (POLLHUP | POLLERR | POLLNVAL)) != 0) return Woke::hung_up;
    }
}

std::expected<void, Fault> send_all(int descriptor, codec::BytesView bytes, SteadyTime deadline, Waker const& waker) {
    while (!bytes.empty()) {
        if (waker.cancelled()) return failed(FaultKind::cancelled, {});
        auto const written = put(descriptor, bytes);
        if (written > 0) {
            bytes = bytes.subspan(static_cast<std::size_t>(written));
            continue;
        }
        if (written < 0 && errno == EINTR) continue;
        if (written < 0 && errno != EAGAIN) return failed(FaultKind::closed, words_of_errno());
        switch (waker.wait(descriptor, Waker::For::writing, deadline)) {
            case Waker::Woke::ready: break;
            case Waker::Woke::deadline: return failed(FaultKind::no_answer, "the other side takes no bytes");
            case Waker::Woke::cancelled: return failed(FaultKind::cancelled, {});
            case Waker::Woke::hung_up: return failed(FaultKind::closed, "the port is gone");
        }
    }
    return {};
}

std::expected<Piece, Fault> receive_some(int descriptor, SteadyTime deadline, Waker const& waker) {
    std::array<std::byte, 512> buffer{};
    while (true) {
        switch (waker.wait(descriptor, Waker::For::reading, deadline)) {
            case Waker::Woke::ready: break;
            case Waker::Woke::deadline: return Piece{.bytes = {}, .at = steady_clock::now()};
            case Waker::Woke::cancelled: return failed(FaultKind::cancelled, {});
            case Waker::Woke::hung_up: return failed(FaultKind::closed, "the port is gone");
        }
        auto const count = read(descriptor, buffer.data(), buffer.size());
        if (count > 0) {
            auto const came = codec::BytesView(buffer).first(static_cast<std::size_t>(count));
            return Piece{.bytes = {came.begin(), came.end()}, .at = steady_clock::now()};
        }
        if (count == 0) return failed(FaultKind::closed, "the other end is gone");
        if (errno == EINTR || errno == EAGAIN) continue;
        return failed(FaultKind::closed, words_of_errno());
    }
}

}  // namespace phasewright::port
