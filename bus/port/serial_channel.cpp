// A serial port as a channel. One program at a time: two masters on one pair destroy each other's frames, so the port
// is locked while it is open, against everybody (TIOCEXCL) and against root too (flock).
#include <cerrno>
#include <system_error>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/ioctl.h>

#include "bus/port/serial_setting.hpp"
#include "bus/port/stream.hpp"

namespace phasewright::port {

namespace {
using codec::Fault;
using codec::FaultKind;

Fault unreachable(std::string detail) {
    return {.kind = FaultKind::unreachable, .detail = std::move(detail), .exception = {}, .where = {}};
}

std::string why_not_opened(int error) {
    switch (error) {
        case ENOENT:
            return "there is no such port: plug the adapter in and compare the name with the list in "
                   "/dev/serial/by-id";
        case EACCES:
        case EPERM:
            return "this user may not open it; on most systems members of the group dialout may "
                   "(usermod -aG dialout USER, then log in again)";
        case EBUSY:
        case EWOULDBLOCK: return "another program has the port open: end it first";
        case ENOTTY:
        case EISDIR: return "this is no serial port";
        case ENXIO:
        case ENODEV:
        case EIO: return "the port exists, but nothing is behind it; unplug the adapter and plug it in again";
        default: return std::generic_category().message(error);
    }
}

bool refused_claim(int descriptor, bool pseudo) {
    int exclusive = 0;
    if (::ioctl(descriptor, TIOCGEXCL, &exclusive) == 0 && exclusive != 0) return true;
    if (::flock(descriptor, LOCK_EX | LOCK_NB) != 0) return errno == EWOULDBLOCK;
    // A pseudo-terminal would stay claimed after its user's sudden end, for as long as its other side lives.
    if (!pseudo) (void)::ioctl(descriptor, TIOCEXCL);
    return false;
}

class SerialChannel final : public Stream {
public:
    SerialChannel(std::string device, plan::SerialFormat format) : device_(std::move(device)), format_(format) {}
    SerialChannel(SerialChannel const&) = delete;
    SerialChannel& operator=(SerialChannel const&) = delete;
    SerialChannel(SerialChannel&&) = delete;
    SerialChannel& operator=(SerialChannel&&) = delete;
    ~SerialChannel() override { SerialChannel::close(); }

    std::expected<void, Fault> open() override;
    void close() override {
        if (descriptor().open() && !pseudo_) (void)::ioctl(descriptor().get(), TIOCNXCL);
        descriptor().reset();
    }
    std::optional<plan::SerialFormat> format() const override { return format_; }
    std::expected<void, Fault> set_format(plan::SerialFormat const& format) override;
    std::string place() const override { return device_; }

private:
    std::expected<void, Fault> apply(int number, plan::SerialFormat const& format) const;

    std::string device_;
    plan::SerialFormat format_;
    bool pseudo_ = false;
};

std::expected<void, Fault> SerialChannel::apply(int number, plan::SerialFormat const& format) const {
    PortTook took;
    int error = set_raw(number, format);
    if (error == 0) error = read_back(number, took);
    // EINVAL: a driver that knows the speed or the parity not at all.
    if (error == EINVAL)
        return std::unexpected(unreachable(
            fmt::format("the port does not take {}; use one it offers, or another adapter", plan::words_of(format))));
    if (error != 0) return std::unexpected(unreachable(why_not_opened(error)));
    if (pseudo_) took.parity = format.parity;  // it has none, and needs none
    if (auto const refused = refused_by_port(format, took))
        return std::unexpected(
            unreachable(fmt::format("the port was set to {} and took {}; use a format it offers, or another adapter",
                                    plan::words_of(format), *refused)));
    return {};
}

std::expected<void, Fault> SerialChannel::open() {
    if (bell().rung()) return std::unexpected(cancelled_fault());
    if (descriptor().open()) return {};
    if (device_.empty()) return std::unexpected(unreachable("no port is named"));
    Descriptor port(::open(device_.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC));
    if (!port.open()) return std::unexpected(unreachable(why_not_opened(errno)));
    pseudo_ = is_pseudo_terminal(port.get());
    if (PortTook took; int const error = read_back(port.get(), took)) {
        return std::unexpected(unreachable(why_not_opened(error == EINVAL ? ENOTTY : error)));
    }
    if (refused_claim(port.get(), pseudo_)) return std::unexpected(unreachable(why_not_opened(EBUSY)));
    if (auto set = apply(port.get(), format_); !set) {
        if (!pseudo_) (void)::ioctl(port.get(), TIOCNXCL);
        return set;
    }
    descriptor() = std::move(port);
    discard_input();  // of whoever had it before
    return {};
}

std::expected<void, Fault> SerialChannel::set_format(plan::SerialFormat const& format) {
    if (descriptor().open()) {
        if (auto set = apply(descriptor().get(), format); !set) {
            // As it was; a port that does not even take that is opened anew by whoever asks next.
            if (auto const back = apply(descriptor().get(), format_); !back) close();
            return set;
        }
        discard_input();  // heard in another format
    }
    format_ = format;
    return {};
}

}  // namespace

std::unique_ptr<Channel> serial_channel(std::string device, plan::SerialFormat format) {
    return std::make_unique<SerialChannel>(std::move(device), format);
}

}  // namespace phasewright::port
