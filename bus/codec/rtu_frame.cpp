#include "bus/codec/rtu_frame.hpp"

#include <fmt/format.h>

#include "bus/codec/question.hpp"

namespace phasewright::codec {

std::uint16_t crc16(BytesView bytes) {
    unsigned crc = 0xFFFFU;
    for (auto const byte : bytes) {
        crc ^= std::to_integer<unsigned>(byte);
        for (int bit = 0; bit < 8; ++bit)
            crc = (crc & 1U) != 0 ? crc >> 1U ^ 0xA001U : crc >> 1U;
    }
    return static_cast<std::uint16_t>(crc);
}

Bytes to_bytes(RtuFrame const& frame) {
    Bytes bytes;
    put_u8(bytes, frame.unit);
    put_bytes(bytes, frame.pdu);
    unsigned const crc = crc16(bytes);
    put_u8(bytes, crc);  // the only number in Modbus that goes low byte first
    put_u8(bytes, crc >> 8U);
    return bytes;
}

std::expected<RtuFrame, Fault> read_rtu_frame(BytesView bytes) {
    auto const garbled = [](std::string detail) {
        return std::unexpected(Fault{.kind = FaultKind::garbled, .detail = std::move(detail)});
    };
    if (bytes.size() < 4) return garbled(fmt::format("{} bytes; the shortest frame has 4", bytes.size()));
    if (bytes.size() > max_rtu_frame_bytes) {
        return garbled(fmt::format("{} bytes; the longest frame has {}", bytes.size(), max_rtu_frame_bytes));
    }
    auto const body = bytes.first(bytes.size() - 2);
    unsigned const carried =
        u8_at(bytes, bytes.size() - 2) | static_cast<unsigned>(u8_at(bytes, bytes.size() - 1)) << 8U;
    unsigned const computed = crc16(body);
    if (carried != computed) {
        return garbled(fmt::format("the checksum is 0x{:04X}, the bytes give 0x{:04X}", carried, computed));
    }
    auto const pdu = body.subspan(1);
    return RtuFrame{.unit = u8_at(bytes, 0), .pdu = Bytes(pdu.begin(), pdu.end())};
}

std::optional<Fault> mismatch(RtuFrame const& answer, RtuFrame const& asked) {
    if (answer.unit == asked.unit) return std::nullopt;
    return Fault{.kind = FaultKind::wrong_unit,
                 .detail = fmt::format("unit {} was asked, unit {} answered", asked.unit, answer.unit)};
}

}  // namespace phasewright::codec
