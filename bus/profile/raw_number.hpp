// A number as the bits of its registers, and back: width, word order, byte order, two's complement, IEEE 754.
#pragma once
#include <cmath>
#include <cstdint>
#include <optional>

#include "bus/profile/profile.hpp"
#include "bus/profile/register_image.hpp"

namespace phasewright::profile {

[[nodiscard]] std::optional<std::uint64_t> raw_of(Field const& field, RegisterImage const& image);
void put_raw(RegisterImage& image, Field const& field, std::uint64_t raw);

// The number that the bits stand for; empty for NaN and infinity.
[[nodiscard]] std::optional<double> number_of(ValueType type, std::uint64_t raw);
// The bits of the number that the type can hold nearest to this one.
[[nodiscard]] std::uint64_t bits_of(ValueType type, double number);
[[nodiscard]] std::uint64_t bits_of_nan(ValueType type);  // 0 for integers

[[nodiscard]] bool is_floating(ValueType type);
[[nodiscard]] double times_power_of_ten(double number, int exponent);  // exact powers: 2309, -1 gives 230.9
// What the scale register makes of a number; empty when it holds no usable scale.
[[nodiscard]] std::optional<double> scaled(double number, ScaleRegister const& scale,
                                           std::uint16_t raw_scale);
[[nodiscard]] std::optional<double> unscaled(double number, ScaleRegister const& scale,
                                             std::uint16_t raw_scale);

}  // namespace phasewright::profile
