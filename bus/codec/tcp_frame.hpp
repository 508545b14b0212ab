// Modbus over TCP puts seven bytes, the MBAP header, before the PDU: a transaction id that the server
// copies, the protocol id 0, the number of bytes that follow, and the unit, which picks the serial device
// behind a gateway. TCP is a stream: an answer can come in pieces or two in one piece, so frames are
// assembled before they are judged.
// Source: MODBUS Messaging on TCP/IP Implementation Guide V1.0b, clause 3.1.3.
#pragma once
#include <expected>
#include <optional>
#include <vector>

#include "bus/codec/bytes.hpp"
#include "bus/codec/fault.hpp"

namespace phasewright::codec {

inline constexpr std::size_t mbap_bytes = 7;
inline constexpr std::size_t max_tcp_frame_bytes = 260;

struct TcpFrame {
    std::uint16_t transaction = 0;
    std::uint8_t unit = 0;
    Bytes pdu;  // 1 to 253 bytes
    friend bool operator==(TcpFrame const&, TcpFrame const&) = default;
};

[[nodiscard]] Bytes to_bytes(TcpFrame const& frame);
[[nodiscard]] std::expected<TcpFrame, Fault> read_tcp_frame(BytesView bytes);  // exactly one frame

// Is this the answer to what was asked? Checks the transaction, then the unit.
[[nodiscard]] std::optional<Fault> mismatch(TcpFrame const& answer, TcpFrame const& asked);

// Makes frames out of a stream. Between two calls it holds less than one frame. After a fault the stream
// has lost its step for good (nothing in it marks where a frame begins): close the connection, or clear()
// with a new one.
class TcpAssembler {
public:
    struct Result {
        std::vector<TcpFrame> frames;  // whole frames, also those before a fault
        std::optional<Fault> fault;    // garbled
    };
    [[nodiscard]] Result feed(BytesView bytes);
    [[nodiscard]] std::size_t held() const { return held_.size(); }  // bytes of a frame that is not whole yet
    void clear();

private:
    Bytes held_;
    std::optional<Fault> lost_;
};

}  // namespace phasewright::codec
