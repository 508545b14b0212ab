// What was found, in sentences: why a field means what it means, what cannot be told, and what would tell it.
#pragma once
#include <string>
#include <vector>

#include "bus/decoder/layout.hpp"

namespace phasewright::decoder {

// Probabilities of fields over all layouts, their rivals, reasons and doubts.
[[nodiscard]] Decoding described(Deck const& deck, Expected const& expected, std::vector<Layout> layouts);

[[nodiscard]] std::string words_of(Format const& format);                             // "uint32, low word first"
[[nodiscard]] std::string number_words(double value, double step);                    // as many digits as the field shows
[[nodiscard]] std::string percent_words(double share);  // "59.0 %"; what is nearly certain is "> 99.9 %"
[[nodiscard]] std::string why(Placed const& placed, Picture const& picture);
[[nodiscard]] std::vector<std::string> doubts_of(Decoding const& decoding, Picture const& picture);

}  // namespace phasewright::decoder
