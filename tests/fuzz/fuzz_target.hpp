// A fuzz target takes any bytes and must come back: with a value, or with a fault that says why not. Whatever it breaks
// (a read past the end, an overflow, a promise of the function) ends the program.
#pragma once
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string_view>

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size);

namespace phasewright::fuzz {

inline void must(bool promise) {
    if (!promise) std::abort();
}
inline std::string_view text_of(std::uint8_t const* data, std::size_t size) {
    if (size == 0) return {};
    return {static_cast<char const*>(static_cast<void const*>(data)), size};
}

}  // namespace phasewright::fuzz
