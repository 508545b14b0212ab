#include "bus/codec/bytes.hpp"

#include <cassert>

namespace phasewright::codec {

namespace {
int hex_digit(char c) {
    if (c >= '0' && c <= '9') return c - '0';
    if (c >= 'A' && c <= 'F') return c - 'A' + 10;
    if (c >= 'a' && c <= 'f') return c - 'a' + 10;
    return -1;
}
}  // namespace

std::string to_hex(BytesView bytes) {
    constexpr std::string_view digits = "0123456789ABCDEF";
    std::string text;
    text.reserve(bytes.size() * 3);
    for (auto const byte : bytes) {
        if (!text.empty()) text += ' ';
        auto const value = std::to_integer<unsigned>(byte);
        text += digits[value >> 4U];
        text += digits[value & 0x0FU];
    }
    return text;
}

std::optional<Bytes> from_hex(std::string_view text) {
    Bytes bytes;
    std::size_t at = 0;
    while (at < text.size()) {
        if (text[at] == ' ' || text[at] == '\n') {
            ++at;
            continue;
        }
        if (at + 1 >= text.size()) return std::nullopt;
        int const high = hex_digit(text[at]);
        int const low = hex_digit(text[at + 1]);
        if (high < 0 || low < 0) return std::nullopt;
        put_u8(bytes, static_cast<unsigned>(high * 16 + low));
        at += 2;
    }
    return bytes;
}

void put_u8(Bytes& bytes, unsigned value) { bytes.push_back(static_cast<std::byte>(value & 0xFFU)); }

void put_u16(Bytes& bytes, unsigned value) {
    put_u8(bytes, value >> 8U);
    put_u8(bytes, value);
}

void put_bytes(Bytes& bytes, BytesView more) { bytes.insert(bytes.end(), more.begin(), more.end()); }

std::uint8_t u8_at(BytesView bytes, std::size_t position) {
    assert(position < bytes.size());
    return std::to_integer<std::uint8_t>(bytes[position]);
}

std::uint16_t u16_at(BytesView bytes, std::size_t position) {
    assert(position + 1 < bytes.size());
    auto const high = std::to_integer<unsigned>(bytes[position]);
    auto const low = std::to_integer<unsigned>(bytes[position + 1]);
    return static_cast<std::uint16_t>(high << 8U | low);
}

}  // namespace phasewright::codec
