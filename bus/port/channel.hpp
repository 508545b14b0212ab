// A channel carries bytes both ways and knows nothing of frames: a serial port, or a TCP connection to a converter that
// passes the bytes of a serial line on. The RTU line (rtu_line.hpp) makes questions and answers of it.
// One thread uses a channel at a time; only cancel() may be called from any other.
#pragma once
#include <chrono>
#include <expected>
#include <memory>
#include <optional>
#include <string>

#include "bus/codec/bytes.hpp"
#include "bus/codec/fault.hpp"
#include "core/plan/serial_line.hpp"

namespace phasewright::port {

using SteadyTime = std::chrono::steady_clock::time_point;

// What came in one piece, and when its last byte was seen.
struct Piece {
    codec::Bytes bytes;
    SteadyTime at;
};

class Channel {
public:
    Channel() = default;
    Channel(Channel const&) = delete;
    Channel& operator=(Channel const&) = delete;
    Channel(Channel&&) = delete;
    Channel& operator=(Channel&&) = delete;
    virtual ~Channel() = default;

    // Opens what is closed (unplugged, lost, never opened); nothing happens when it is open.
    [[nodiscard]] virtual std::expected<void, codec::Fault> open() = 0;
    virtual void close() = 0;

    // Hands the bytes to the system; the last of them may still be on its way out.
    [[nodiscard]] virtual std::expected<void, codec::Fault> send(codec::BytesView bytes, SteadyTime deadline) = 0;
    // Waits for the next bytes. Nothing by the deadline: an empty piece. Faults: closed, cancelled.
    [[nodiscard]] virtual std::expected<Piece, codec::Fault> receive(SteadyTime deadline) = 0;
    virtual void discard_input() = 0;

    // Speed and parity of a serial port; a channel over TCP has none and refuses to change them (not_offered).
    [[nodiscard]] virtual std::optional<plan::SerialFormat> format() const = 0;
    [[nodiscard]] virtual std::expected<void, codec::Fault> set_format(plan::SerialFormat const& format) = 0;

    // Ends the wait of the other thread at once; every later wait ends so too, until resume().
    virtual void cancel() noexcept = 0;
    virtual void resume() noexcept = 0;

    [[nodiscard]] virtual std::string place() const = 0;  // "/dev/ttyUSB0", "192.0.2.7:4001"
};

// A serial port, raw: eight data bits, no flow control, no echo. It is claimed (TIOCEXCL) while it is open.
[[nodiscard]] std::unique_ptr<Channel> serial_channel(std::string device, plan::SerialFormat format);

// A converter that passes RTU frames on unchanged.
struct TcpChannelSettings {
    std::string host = "127.0.0.1";
    std::uint16_t port = 0;
    int connect_timeout_ms = 2000;
};
[[nodiscard]] std::unique_ptr<Channel> tcp_channel(TcpChannelSettings settings);

}  // namespace phasewright::port
