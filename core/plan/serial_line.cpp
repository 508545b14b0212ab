#include "core/plan/serial_line.hpp"

namespace phasewright::plan {

namespace {
constexpr int fastest_with_scaled_gaps = 19200;  // bit/s
}

std::string_view name_of(Parity parity) {
    switch (parity) {
        case Parity::even: return "even";
        case Parity::odd: return "odd";
        case Parity::none: return "none";
    }
    return "unknown";
}

std::optional<Parity> parity_of(std::string_view name) {
    for (auto const parity : {Parity::even, Parity::odd, Parity::none})
        if (name_of(parity) == name) return parity;
    return std::nullopt;
}

std::string words_of(SerialFormat const& format) {
    char const letter = format.parity == Parity::even ? 'E' : format.parity == Parity::odd ? 'O' : 'N';
    return std::to_string(format.bit_rate) + " 8" + letter + std::to_string(format.stop_bits);
}

int bits_of_character(SerialFormat const& format) {
    return 1 + 8 + (format.parity == Parity::none ? 0 : 1) + format.stop_bits;
}

double character_s(SerialFormat const& format) {
    return static_cast<double>(bits_of_character(format)) / static_cast<double>(format.bit_rate);
}

double longest_gap_inside_s(SerialFormat const& format) {
    return format.bit_rate > fastest_with_scaled_gaps ? 750e-6 : 1.5 * character_s(format);
}

double silence_between_s(SerialFormat const& format) {
    return format.bit_rate > fastest_with_scaled_gaps ? 1750e-6 : 3.5 * character_s(format);
}

}  // namespace phasewright::plan
