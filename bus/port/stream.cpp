#include "bus/port/stream.hpp"

#include <array>
#include <cerrno>
#include <system_error>
#include <utility>

#include <unistd.h>

namespace phasewright::port {

namespace {
using codec::Fault;
using codec::FaultKind;

constexpr std::size_t piece_bytes = 1024;
constexpr int most_pieces_discarded = 64;  // whoever sends without a pause is not waited for

bool try_later(int error) { return error == EAGAIN || error == EINTR; }
}  // namespace

Descriptor& Descriptor::operator=(Descriptor&& other) noexcept {
    if (this != &other) {
        reset();
        number_ = other.release();
    }
    return *this;
}
void Descriptor::reset() {
    if (number_ >= 0) ::close(number_);
    number_ = -1;
}
int Descriptor::release() { return std::exchange(number_, -1); }

Fault cancelled_fault() { return {.kind = FaultKind::cancelled, .detail = {}, .exception = {}, .where = {}}; }

// The descriptor is of no more use. A port that was unplugged reads nothing, or fails with EIO.
Fault Stream::lost(int error) {
    close();
    return {.kind = FaultKind::closed,
            .detail = error == 0 ? "the other end is gone" : std::generic_category().message(error),
            .exception = {},
            .where = {}};
}

long Stream::write_some(codec::BytesView bytes) { return ::write(descriptor_.get(), bytes.data(), bytes.size()); }

std::expected<void, Fault> Stream::send(codec::BytesView bytes, SteadyTime deadline) {
    if (bell_.rung()) return std::unexpected(cancelled_fault());
    if (!descriptor_.open()) return std::unexpected(lost(EBADF));
    while (!bytes.empty()) {
        auto const count = write_some(bytes);
        if (count > 0) {
            bytes = bytes.subspan(static_cast<std::size_t>(count));
            continue;
        }
        if (count < 0 && !try_later(errno)) return std::unexpected(lost(errno));
        auto const woke = wait_for(descriptor_.get(), Await::writable, bell_, deadline);
        if (woke == Woke::bell) return std::unexpected(cancelled_fault());
        if (woke == Woke::deadline)
            return std::unexpected(Fault{.kind = FaultKind::no_answer,
                                         .detail = "the question could not be handed over in time",
                                         .exception = {},
                                         .where = {}});
    }
    return {};
}

std::expected<Piece, Fault> Stream::receive(SteadyTime deadline) {
    if (!descriptor_.open()) return std::unexpected(bell_.rung() ? cancelled_fault() : lost(EBADF));
    std::array<std::byte, piece_bytes> buffer{};
    while (true) {
        switch (wait_for(descriptor_.get(), Await::readable, bell_, deadline)) {
            case Woke::bell: return std::unexpected(cancelled_fault());
            case Woke::deadline: return Piece{.bytes = {}, .at = std::chrono::steady_clock::now()};
            case Woke::ready: break;
        }
        auto const count = ::read(descriptor_.get(), buffer.data(), buffer.size());
        auto const now = std::chrono::steady_clock::now();
        if (count > 0) return Piece{.bytes = {buffer.begin(), buffer.begin() + count}, .at = now};
        if (count == 0) return std::unexpected(lost(0));
        if (!try_later(errno)) return std::unexpected(lost(errno));
    }
}

void Stream::discard_input() {
    std::array<std::byte, piece_bytes> buffer{};
    for (int pieces = 0; descriptor_.open() && pieces < most_pieces_discarded; ++pieces)
        if (::read(descriptor_.get(), buffer.data(), buffer.size()) <= 0) return;
}

}  // namespace phasewright::port
