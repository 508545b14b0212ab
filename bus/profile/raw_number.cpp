#include "bus/profile/raw_number.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <limits>

namespace phasewright::profile {

namespace {

std::uint16_t turned(std::uint16_t word, Order bytes) {
    if (bytes == Order::high_first) return word;
    return static_cast<std::uint16_t>((word & 0xFFU) << 8U | word >> 8U);
}

// Which register of the number, counted in addresses, holds its `rank`-th word from the top.
int place_of(int rank, Field const& field) {
    return field.words == Order::high_first ? rank : registers_of(field.type) - 1 - rank;
}

template <class Integer>
std::uint64_t bits_of_integer(double number) {
    // The largest 64-bit numbers are not doubles: compare before the conversion, never after.
    auto const least = static_cast<double>(std::numeric_limits<Integer>::min());
    auto const most = static_cast<double>(std::numeric_limits<Integer>::max());
    double const rounded = std::round(number);
    Integer const held = rounded <= least  ? std::numeric_limits<Integer>::min()
                         : rounded >= most ? std::numeric_limits<Integer>::max()
                                           : static_cast<Integer>(rounded);
    return static_cast<std::uint64_t>(static_cast<std::make_unsigned_t<Integer>>(held));
}

}  // namespace

bool is_floating(ValueType type) { return type == ValueType::float32 || type == ValueType::float64; }

std::optional<std::uint64_t> raw_of(Field const& field, RegisterImage const& image) {
    std::uint64_t raw = 0;
    for (int rank = 0; rank < registers_of(field.type); ++rank) {
        auto const address = std::uint32_t{field.address} + static_cast<std::uint32_t>(place_of(rank, field));
        auto const word = register_at(image, field.function, address);
        if (!word) return std::nullopt;
        raw = raw << 16U | turned(*word, field.bytes);
    }
    return raw;
}

void put_raw(RegisterImage& image, Field const& field, std::uint64_t raw) {
    int const words = registers_of(field.type);
    for (int rank = 0; rank < words; ++rank) {
        auto const shift = static_cast<unsigned>(16 * (words - 1 - rank));
        auto const word = static_cast<std::uint16_t>(raw >> shift & 0xFFFFU);
        std::array const one{turned(word, field.bytes)};
        put_registers(image, field.function,
                      static_cast<std::uint16_t>(field.address + place_of(rank, field)), one);
    }
}

std::optional<double> number_of(ValueType type, std::uint64_t raw) {
    double number = 0.0;
    switch (type) {
        case ValueType::int16: number = static_cast<std::int16_t>(raw); break;
        case ValueType::uint16: number = static_cast<std::uint16_t>(raw); break;
        case ValueType::int32: number = static_cast<std::int32_t>(raw); break;
        case ValueType::uint32: number = static_cast<std::uint32_t>(raw); break;
        case ValueType::int64: number = static_cast<double>(static_cast<std::int64_t>(raw)); break;
        case ValueType::uint64: number = static_cast<double>(raw); break;
        case ValueType::float32:
            number = static_cast<double>(std::bit_cast<float>(static_cast<std::uint32_t>(raw)));
            break;
        case ValueType::float64: number = std::bit_cast<double>(raw); break;
    }
    if (!std::isfinite(number)) return std::nullopt;
    return number;
}

std::uint64_t bits_of(ValueType type, double number) {
    switch (type) {
        case ValueType::int16: return bits_of_integer<std::int16_t>(number);
        case ValueType::uint16: return bits_of_integer<std::uint16_t>(number);
        case ValueType::int32: return bits_of_integer<std::int32_t>(number);
        case ValueType::uint32: return bits_of_integer<std::uint32_t>(number);
        case ValueType::int64: return bits_of_integer<std::int64_t>(number);
        case ValueType::uint64: return bits_of_integer<std::uint64_t>(number);
        case ValueType::float32: {
            auto const most = static_cast<double>(std::numeric_limits<float>::max());
            return std::bit_cast<std::uint32_t>(static_cast<float>(std::clamp(number, -most, most)));
        }
        case ValueType::float64: return std::bit_cast<std::uint64_t>(number);
    }
    return 0;
}

std::uint64_t bits_of_nan(ValueType type) {
    if (type == ValueType::float32) return 0x7FC00000U;
    if (type == ValueType::float64) return 0x7FF8000000000000U;
    return 0;
}

double times_power_of_ten(double number, int exponent) {
    constexpr std::array powers{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10};
    auto const power = powers.at(static_cast<std::size_t>(std::min(std::abs(exponent), 10)));
    return exponent < 0 ? number / power : number * power;
}

std::optional<double> scaled(double number, ScaleRegister const& scale, std::uint16_t raw_scale) {
    if (scale.kind == ScaleKind::power_of_ten) {
        int const exponent = static_cast<std::int16_t>(raw_scale);
        if (exponent < -10 || exponent > 10) return std::nullopt;
        return times_power_of_ten(number, exponent);
    }
    if (raw_scale == 0) return std::nullopt;
    return scale.kind == ScaleKind::multiplier ? number * raw_scale : number / raw_scale;
}

std::optional<double> unscaled(double number, ScaleRegister const& scale, std::uint16_t raw_scale) {
    if (scale.kind == ScaleKind::power_of_ten) {
        int const exponent = static_cast<std::int16_t>(raw_scale);
        if (exponent < -10 || exponent > 10) return std::nullopt;
        return times_power_of_ten(number, -exponent);
    }
    if (raw_scale == 0) return std::nullopt;
    return scale.kind == ScaleKind::multiplier ? number / raw_scale : number * raw_scale;
}

}  // namespace phasewright::profile
