// The one file that knows sqrt(3).
#pragma once
#include <cmath>
#include <numbers>
#include <optional>

namespace phasewright::quantity {

inline constexpr double sqrt_of_3 = std::numbers::sqrt3;

// Line voltage of a balanced wye from its phase voltage, and back.
[[nodiscard]] constexpr double line_from_phase_v(double phase_v) { return phase_v * sqrt_of_3; }
[[nodiscard]] constexpr double phase_from_line_v(double line_v) { return line_v / sqrt_of_3; }

// High leg to neutral of a mid-tapped delta: 240 V gives 207.8 V.
[[nodiscard]] constexpr double high_leg_v(double line_v) { return line_v * sqrt_of_3 / 2.0; }

// Side of the equilateral triangle whose corners stand at these distances from a point inside it or near it; empty where
// none does. The distances are line to point voltages, the side is the line voltage.
[[nodiscard]] inline std::optional<double> triangle_side(double one, double two, double three) {
    double const squares = one * one + two * two + three * three;
    double const fourths = one * one * one * one + two * two * two * two + three * three * three * three;
    double const under_root = 3.0 * squares * squares - 6.0 * fourths;
    if (under_root < 0.0) return std::nullopt;
    return std::sqrt(0.5 * (squares + std::sqrt(under_root)));
}

}  // namespace phasewright::quantity
