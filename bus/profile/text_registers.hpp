// Text in registers: two characters each, high byte first, ended by a zero or by the field's end.
#pragma once
#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace phasewright::profile {

// Stops at the first zero; blanks at the end fall away; what is not printable ASCII becomes a question mark.
[[nodiscard]] std::string text_of(std::span<std::uint16_t const> registers);
[[nodiscard]] std::vector<std::uint16_t> registers_for(std::string_view text, std::size_t count);

}  // namespace phasewright::profile
