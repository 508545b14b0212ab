// The kernel's own terminal interface (termios2): any bit rate, and no library between us and what the port took. A
// pseudo-terminal has neither speed nor parity and drops the parity bit from its settings; a real port that does the
// same would read garbage, so what it took is read back and compared.
#include <cerrno>
#include <cstdint>
#include <system_error>
#include <utility>

#include <asm/termbits.h>
#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <unistd.h>

#include "bus/port/channel.hpp"
#include "bus/port/waker.hpp"

namespace phasewright::port {

namespace {
using codec::Fault;
using codec::FaultKind;

std::unexpected<Fault> unreachable(std::string detail) {
    return std::unexpected(Fault{.kind = FaultKind::unreachable, .detail = std::move(detail)});
}

std::string why_not_opened(int error) {
    switch (error) {
        case ENOENT: return "there is no such port: is the adapter plugged in, and its name right";
        case EACCES:
            return "this user may not open the port: on Debian, members of the group dialout may";
        case EBUSY: return "another program has the port open: end it first";
        default: return std::system_category().message(error);
    }
}

// Unix98 pseudo-terminals have the major numbers 136 to 143 (kernel, admin-guide/devices.txt).
bool is_pseudo_terminal(int descriptor) {
    struct stat status{};
    return fstat(descriptor, &status) == 0 && major(status.st_rdev) >= 136 && major(status.st_rdev) <= 143;
}

constexpr tcflag_t format_bits = CSIZE | CSTOPB | PARENB | PARODD;

tcflag_t bits_of(plan::SerialFormat const& format) {
    tcflag_t bits = CS8;
    if (format.stop_bits == 2) bits |= CSTOPB;
    if (format.parity != plan::Parity::none) bits |= PARENB;
    if (format.parity == plan::Parity::odd) bits |= PARODD;
    return bits;
}

class SerialChannel final : public Channel {
public:
    SerialChannel(std::string device, plan::SerialFormat format)
        : device_(std::move(device)), format_(format) {}
    SerialChannel(SerialChannel const&) = delete;
    SerialChannel& operator=(SerialChannel const&) = delete;
    SerialChannel(SerialChannel&&) = delete;
    SerialChannel& operator=(SerialChannel&&) = delete;
    ~SerialChannel() override { shut(); }

    std::expected<void, Fault> open() override;
    void close() override { shut(); }
    std::expected<void, Fault> send(codec::BytesView bytes, SteadyTime deadline) override {
        return or_closed(send_all(descriptor_, bytes, deadline, waker_));
    }
    std::expected<Piece, Fault> receive(SteadyTime deadline) override {
        return or_closed(receive_some(descriptor_, deadline, waker_));
    }
    void discard_input() override {
        if (descriptor_ >= 0) ioctl(descriptor_, TCFLSH, TCIFLUSH);
    }
    std::optional<plan::SerialFormat> format() const override { return format_; }
    std::expected<void, Fault> set_format(plan::SerialFormat const& format) override {
        format_ = format;
        if (descriptor_ < 0) return {};
        return apply();
    }
    void cancel() noexcept override { waker_.cancel(); }
    void resume() noexcept override { waker_.resume(); }
    std::string place() const override { return device_; }

private:
    std::expected<void, Fault> apply();
    void shut() {
        if (descriptor_ >= 0) ::close(descriptor_);
        descriptor_ = -1;
    }
    // A port that went away is opened anew the next time.
    template <class Result>
    Result or_closed(Result result) {
        if (!result && result.error().kind == FaultKind::closed) shut();
        return result;
    }

    std::string device_;
    plan::SerialFormat format_;
    int descriptor_ = -1;
    Waker waker_;
};

std::expected<void, Fault> SerialChannel::open() {
    if (descriptor_ >= 0) return {};
    if (device_.empty()) return unreachable("the plan names no port for this line");
    descriptor_ = ::open(device_.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (descriptor_ < 0) return unreachable(why_not_opened(errno));
    // Two programs on one port are two masters on one line. TIOCEXCL keeps later ones out, unless they are root's;
    // the lock is for those.
    if (flock(descriptor_, LOCK_EX | LOCK_NB) != 0) {
        shut();
        return unreachable(why_not_opened(EBUSY));
    }
    termios2 settings{};
    if (ioctl(descriptor_, TCGETS2, &settings) != 0) {
        shut();
        return unreachable("this is no serial port");
    }
    ioctl(descriptor_, TIOCEXCL);
    auto applied = apply();
    if (!applied) shut();
    return applied;
}

std::expected<void, Fault> SerialChannel::apply() {
    termios2 settings{};
    settings.c_cflag = bits_of(format_) | CREAD | CLOCAL | BOTHER | (BOTHER << IBSHIFT);
    settings.c_ispeed = settings.c_ospeed = static_cast<speed_t>(format_.bit_rate);
    termios2 taken{};
    if (ioctl(descriptor_, TCSETS2, &settings) != 0 || ioctl(descriptor_, TCGETS2, &taken) != 0)
        return unreachable(fmt::format("the port refuses {}: {}", plan::words_of(format_),
                                       std::system_category().message(errno)));
    if (is_pseudo_terminal(descriptor_)) return {};
    auto const asked = static_cast<double>(format_.bit_rate);
    // MODBUS over Serial Line V1.02, clause 2.5.1: a sender's bit rate is right to 1 %.
    bool const speed_is_right = static_cast<double>(taken.c_ospeed) > 0.99 * asked &&
                                static_cast<double>(taken.c_ospeed) < 1.01 * asked;
    if (speed_is_right && (taken.c_cflag & format_bits) == bits_of(format_)) return {};
    return unreachable(fmt::format("the port cannot do {}: it took {} bit/s{}", plan::words_of(format_), taken.c_ospeed,
                                   speed_is_right ? " with another parity or other stop bits" : ""));
}
}  // namespace

std::unique_ptr<Channel> serial_channel(std::string device, plan::SerialFormat format) {
    return std::make_unique<SerialChannel>(std::move(device), format);
}

}  // namespace phasewright::port
