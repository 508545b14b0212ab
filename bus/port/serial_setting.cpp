#include "bus/port/serial_setting.hpp"

#include <cerrno>
#include <cmath>

// The kernel's own structure; the C library's <termios.h> knows only a list of speeds and must not be included beside.
#include <asm/termbits.h>
#include <fmt/format.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>

namespace phasewright::port {

namespace {
constexpr double bit_rate_tolerance = 0.02;
// Documentation/admin-guide/devices.txt of Linux: 136 to 143 are the ends of pseudo-terminals that programs open.
constexpr unsigned first_pty_major = 136;
constexpr unsigned last_pty_major = 143;
constexpr unsigned input_speed_shift = IBSHIFT;
}  // namespace

std::optional<std::string> refused_by_port(plan::SerialFormat const& asked, PortTook const& took) {
    std::string all;
    auto const add = [&all](std::string const& words) { all += (all.empty() ? "" : ", ") + words; };
    if (std::abs(took.bit_rate - asked.bit_rate) > bit_rate_tolerance * asked.bit_rate)
        add(fmt::format("speed {} bit/s instead of {}", took.bit_rate, asked.bit_rate));
    if (took.parity != asked.parity)
        add(fmt::format("parity {} instead of {}", plan::name_of(took.parity), plan::name_of(asked.parity)));
    if (took.stop_bits != asked.stop_bits)
        add(fmt::format("stop bits {} instead of {}", took.stop_bits, asked.stop_bits));
    if (!took.eight_bits) add("fewer than 8 data bits");
    if (all.empty()) return std::nullopt;
    return all;
}

int set_raw(int descriptor, plan::SerialFormat const& format) {
    struct termios2 settings {};
    if (::ioctl(descriptor, TCGETS2, &settings) != 0) return errno;
    settings.c_iflag = 0;
    settings.c_oflag = 0;
    settings.c_lflag = 0;
    settings.c_cflag = CS8 | CREAD | CLOCAL | BOTHER | static_cast<unsigned>(BOTHER) << input_speed_shift;
    if (format.parity != plan::Parity::none) settings.c_cflag |= PARENB;
    if (format.parity == plan::Parity::odd) settings.c_cflag |= PARODD;
    if (format.stop_bits == 2) settings.c_cflag |= CSTOPB;
    settings.c_ispeed = settings.c_ospeed = static_cast<unsigned>(format.bit_rate);
    settings.c_cc[VMIN] = 1;  // nothing there and unplugged are then told apart
    settings.c_cc[VTIME] = 0;
    return ::ioctl(descriptor, TCSETS2, &settings) == 0 ? 0 : errno;
}

int read_back(int descriptor, PortTook& took) {
    struct termios2 settings {};
    if (::ioctl(descriptor, TCGETS2, &settings) != 0) return errno;
    auto const flags = settings.c_cflag;
    took.bit_rate = static_cast<int>(settings.c_ospeed);
    took.parity = (flags & PARENB) == 0   ? plan::Parity::none
                  : (flags & PARODD) != 0 ? plan::Parity::odd
                                          : plan::Parity::even;
    took.stop_bits = (flags & CSTOPB) != 0 ? 2 : 1;
    took.eight_bits = (flags & CSIZE) == CS8;
    return 0;
}

bool is_pseudo_terminal(int descriptor) {
    struct stat about {};
    if (::fstat(descriptor, &about) != 0) return false;
    auto const major_number = major(about.st_rdev);
    return S_ISCHR(about.st_mode) && major_number >= first_pty_major && major_number <= last_pty_major;
}

}  // namespace phasewright::port
