#include "bus/profile/text_registers.hpp"

namespace phasewright::profile {

std::string text_of(std::span<std::uint16_t const> registers) {
    std::string text;
    bool ended = false;
    for (unsigned const word : registers) {
        for (unsigned const code : {word >> 8U, word & 0xFFU}) {
            ended = ended || code == 0;
            if (!ended) text += code >= 0x20 && code < 0x7F ? static_cast<char>(code) : '?';
        }
    }
    while (!text.empty() && text.back() == ' ') text.pop_back();
    return text;
}

std::vector<std::uint16_t> registers_for(std::string_view text, std::size_t count) {
    std::vector<std::uint16_t> registers(count, 0);
    for (std::size_t at = 0; at < text.size() && at < 2 * count; ++at) {
        unsigned const code = static_cast<unsigned char>(text[at]);
        auto& word = registers[at / 2];
        word = static_cast<std::uint16_t>(word | (at % 2 == 0 ? code << 8U : code));
    }
    return registers;
}

}  // namespace phasewright::profile
