#include "bus/twin/pty.hpp"

#include <array>
#include <cerrno>
#include <cstdlib>
#include <system_error>

#include <asm/termbits.h>
#include <fcntl.h>
#include <sys/ioctl.h>
#include <unistd.h>

namespace phasewright::twin {

namespace {
// Nothing is to be changed or sent back by the terminal itself.
void make_raw(int descriptor) {
    termios2 settings{};
    if (ioctl(descriptor, TCGETS2, &settings) != 0) return;
    settings.c_iflag = settings.c_oflag = settings.c_lflag = 0;
    ioctl(descriptor, TCSETS2, &settings);
}

std::unexpected<quantity::Fault> failed(std::string const& what) {
    return std::unexpected(quantity::Fault{.what = what + ": " + std::system_category().message(errno),
                                           .where = {},
                                           .found = {},
                                           .allowed = {},
                                           .remedy = "fewer lines at once, perhaps"});
}
}  // namespace

NearEnd::~NearEnd() {
    if (descriptor >= 0) close(descriptor);
}

std::expected<Pty, quantity::Fault> open_pty() {
    int const master = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (master < 0) return failed("no pseudo-terminal could be had");
    std::array<char, 128> name{};
    if (grantpt(master) != 0 || unlockpt(master) != 0 || ptsname_r(master, name.data(), name.size()) != 0) {
        close(master);
        return failed("the pseudo-terminal cannot be used");
    }
    int const near_end = open(name.data(), O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (near_end < 0) {
        close(master);
        return failed("the pseudo-terminal cannot be opened");
    }
    make_raw(near_end);
    return Pty{.master = master, .near_end = NearEnd{name.data(), near_end}};
}

plan::SerialFormat format_on(int master, plan::SerialFormat const& planned) {
    plan::SerialFormat format;
    termios2 settings{};
    if (ioctl(master, TCGETS2, &settings) != 0) return planned;
    format.bit_rate = static_cast<int>(settings.c_ospeed);
    format.stop_bits = (settings.c_cflag & CSTOPB) != 0 ? 2 : 1;
    format.parity = plan::Parity::even;
    if (format.stop_bits == 2) format.parity = plan::Parity::none;
    if ((settings.c_cflag & PARODD) != 0) format.parity = plan::Parity::odd;
    bool const same_is_left = format.bit_rate == planned.bit_rate && format.stop_bits == planned.stop_bits &&
                              (format.parity == plan::Parity::odd) == (planned.parity == plan::Parity::odd);
    return same_is_left ? planned : format;
}

}  // namespace phasewright::twin
