// Numbers as text, the same on every machine: no locale, a full stop as decimal sign.
#pragma once
#include <string>
#include <string_view>
#include <vector>

namespace phasewright::quantity {

[[nodiscard]] std::string fixed(double value, int decimals);   // 8.1500 -> "8.15"; minus zero is printed as zero
[[nodiscard]] std::string shortest(double value);              // the fewest digits that read back as the same number
[[nodiscard]] std::string with_sign(double value, int decimals);  // "+8.15", "-8.15"
[[nodiscard]] std::string joined(std::vector<std::string> const& parts, std::string_view between);

// The entry of `known` that is nearest to `word` by edit distance; for "did you mean".
[[nodiscard]] std::string nearest_word(std::string_view word, std::vector<std::string> const& known);

}  // namespace phasewright::quantity
