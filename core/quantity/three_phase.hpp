// The one file that knows sqrt(3).
#pragma once
#include <numbers>

namespace phasewright::quantity {

inline constexpr double sqrt_of_3 = std::numbers::sqrt3;

// Line voltage of a balanced wye from its phase voltage, and back.
[[nodiscard]] constexpr double line_from_phase_v(double phase_v) { return phase_v * sqrt_of_3; }
[[nodiscard]] constexpr double phase_from_line_v(double line_v) { return line_v / sqrt_of_3; }

// High leg to neutral of a mid-tapped delta: 240 V gives 207.8 V.
[[nodiscard]] constexpr double high_leg_v(double line_v) { return line_v * sqrt_of_3 / 2.0; }

}  // namespace phasewright::quantity
