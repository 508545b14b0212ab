// Bytes as they travel, and the same bytes as people write them down: "01 03 00 6B 00 03".
// Modbus sends the high byte of a 16-bit number first (MODBUS Application Protocol V1.1b3, clause 4.2).
#pragma once
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace phasewright::codec {

using Bytes = std::vector<std::byte>;
using BytesView = std::span<std::byte const>;
using Registers = std::vector<std::uint16_t>;

[[nodiscard]] std::string to_hex(BytesView bytes);                   // "01 03 00 6B"
[[nodiscard]] std::optional<Bytes> from_hex(std::string_view text);  // spaces between bytes are free

void put_u8(Bytes& bytes, unsigned value);
void put_u16(Bytes& bytes, unsigned value);  // high byte first
void put_bytes(Bytes& bytes, BytesView more);
[[nodiscard]] std::uint8_t u8_at(BytesView bytes, std::size_t position);    // position must be inside
[[nodiscard]] std::uint16_t u16_at(BytesView bytes, std::size_t position);  // both bytes must be inside

}  // namespace phasewright::codec
