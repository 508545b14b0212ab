// Modbus on a serial line: unit address, PDU, and a checksum over both, low byte first.
// Source: MODBUS over Serial Line V1.02, clause 2.5.1 and appendix B.
#pragma once
#include <expected>

#include "bus/codec/bytes.hpp"
#include "bus/codec/fault.hpp"

namespace phasewright::codec {

inline constexpr std::size_t max_rtu_frame_bytes = 256;

// CRC-16/MODBUS: start 0xFFFF, polynomial x^16 + x^15 + x^2 + 1 taken low bit first (0xA001), nothing added
// at the end.
[[nodiscard]] std::uint16_t crc16(BytesView bytes);

struct RtuFrame {
    std::uint8_t unit = 0;
    Bytes pdu;
    friend bool operator==(RtuFrame const&, RtuFrame const&) = default;
};
[[nodiscard]] Bytes to_bytes(RtuFrame const& frame);
[[nodiscard]] std::expected<RtuFrame, Fault> read_rtu_frame(BytesView bytes);  // exactly one frame
[[nodiscard]] std::optional<Fault> mismatch(RtuFrame const& answer, RtuFrame const& asked);

}  // namespace phasewright::codec
