// What a real port may do with a format it cannot do. No real port stands here, so what it took is written down.
#include "bus/port/serial_setting.hpp"

#include <doctest/doctest.h>

#include "bus/port/pty_in_tests.hpp"

namespace phasewright::port {

using plan::Parity;

TEST_CASE("a port that takes another speed, parity or number of bits than asked is named as that") {
    plan::SerialFormat const asked{.bit_rate = 115200, .parity = Parity::even, .stop_bits = 1};
    PortTook const right{.bit_rate = 115200, .parity = Parity::even, .stop_bits = 1};
    CHECK_FALSE(refused_by_port(asked, right));
    auto nearly = right;
    nearly.bit_rate = 115385;  // 24 MHz / 208, 0.16 % off: a divisor can do no better
    CHECK_FALSE(refused_by_port(asked, nearly));
    auto fast = right;
    fast.bit_rate = 125000;
    CHECK(refused_by_port(asked, fast) == "speed 125000 bit/s instead of 115200");
    CHECK(refused_by_port(asked, {.bit_rate = 9600, .parity = Parity::none, .stop_bits = 2, .eight_bits = false}) ==
          "speed 9600 bit/s instead of 115200, parity none instead of even, stop bits 2 instead of 1, fewer than 8 "
          "data bits");
}

TEST_CASE("a pseudo-terminal takes any speed, even one that no list has, and drops the parity without a fault") {
    FarEnd const far;
    int const near = ::open(far.device().c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK);
    REQUIRE(near >= 0);
    CHECK(is_pseudo_terminal(near));
    CHECK(set_raw(near, {.bit_rate = 31250, .parity = Parity::odd, .stop_bits = 2}) == 0);
    PortTook took;
    REQUIRE(read_back(near, took) == 0);
    CHECK(took.bit_rate == 31250);
    CHECK(took.parity == Parity::none);
    CHECK(took.stop_bits == 2);
    CHECK(took.eight_bits);
    ::close(near);
    int const nothing = ::open("/dev/null", O_RDWR);
    CHECK_FALSE(is_pseudo_terminal(nothing));
    CHECK(read_back(nothing, took) != 0);
    ::close(nothing);
}

}  // namespace phasewright::port
