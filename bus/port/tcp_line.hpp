// Modbus TCP as a line. The connection is made at the first question and made anew after it was lost; a
// question is asked again as often as `tries` allows, except where asking again cannot help (the device
// refused). Answers are paired with questions by their transaction id: one that comes after its wait is
// over is thrown away. Unit 0 is read (over TCP it is often the device itself), but never written: behind a gateway it
// means everybody.
#pragma once
#include <memory>
#include <string>

#include "bus/port/line.hpp"

namespace phasewright::port {

struct TcpSettings {
    std::string host = "127.0.0.1";
    std::uint16_t port = 502;
    int connect_timeout_ms = 2000;
    int answer_timeout_ms = 1000;
    int tries = 2;      // at least one
    int budget_ms = 0;  // no try begins later, and no wait lasts longer, than this after the question; 0: tries decide
};

[[nodiscard]] std::unique_ptr<Line> tcp_line(TcpSettings settings);

}  // namespace phasewright::port
