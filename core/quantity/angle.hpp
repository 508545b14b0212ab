// Angles as the meter shows them (degrees) and as formulas use them (radians), kept apart by type.
// Every angle of the project is wrapped to (-180, 180]; a lag (voltage ahead of current) is positive.
#pragma once
#include <compare>
#include <numbers>

namespace phasewright::quantity {

struct Degrees {
    double value = 0.0;
    friend constexpr auto operator<=>(Degrees, Degrees) = default;
};
struct Radians {
    double value = 0.0;
    friend constexpr auto operator<=>(Radians, Radians) = default;
};

// For formulas that work on plain numbers.
inline constexpr double degrees_per_radian = 180.0 / std::numbers::pi;

[[nodiscard]] constexpr Radians to_radians(Degrees angle) { return {angle.value * std::numbers::pi / 180.0}; }
[[nodiscard]] constexpr Degrees to_degrees(Radians angle) { return {angle.value * 180.0 / std::numbers::pi}; }

// Degrees into (-180, 180].
[[nodiscard]] double wrapped_deg(double angle_deg);

}  // namespace phasewright::quantity
