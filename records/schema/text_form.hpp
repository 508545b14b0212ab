// The letters of the canonical text (docs/reference/records.md): what may stand in a value, how it is written
// on one line, what instant a time means.
#pragma once
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace phasewright::schema {

[[nodiscard]] bool is_utf8(std::string_view text);

// True when `text` can stand in a value: UTF-8, no control characters but tab, LF and CR.
[[nodiscard]] bool may_stand(std::string_view text);
[[nodiscard]] std::string escaped(std::string_view value);
[[nodiscard]] std::optional<std::string> unescaped(
    std::string_view line);  // empty: not as `escaped` writes it

[[nodiscard]] std::string hex_of(std::span<unsigned char const> bytes);
// Fills `bytes`; false unless `hex` is exactly so many digits, in lower case.
[[nodiscard]] bool bytes_of(std::string_view hex, std::span<unsigned char> bytes);
[[nodiscard]] bool is_hex(std::string_view text, std::size_t digits);

// Milliseconds since 1970-01-01T00:00:00Z of "2026-11-25T10:20:00.5+01:00"; empty when it is no such time.
[[nodiscard]] std::optional<std::int64_t> instant_ms(std::string_view time);
// "2026-11-25T09:20:00Z"
[[nodiscard]] std::string utc_time(std::int64_t instant_ms);

}  // namespace phasewright::schema
