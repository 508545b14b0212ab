// For tests: a conversation is written as hex with a gloss beside it.
#pragma once
#include <stdexcept>

#include "bus/codec/bytes.hpp"

namespace phasewright::codec {

[[nodiscard]] inline Bytes hex(std::string_view text) {
    auto bytes = from_hex(text);
    if (!bytes) throw std::invalid_argument("not hex: " + std::string(text));
    return *bytes;
}

}  // namespace phasewright::codec
