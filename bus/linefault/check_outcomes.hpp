// What each check would show in one world: the chances of its outcomes.
#pragma once
#include <functional>
#include <string>
#include <vector>

#include "bus/linefault/posterior.hpp"

namespace phasewright::linefault {

using Chances = std::vector<double>;  // one an outcome, sum 1

// Idle volts at a position, in these stretches: below -0.05, to 0.05, to 0.2, to 0.4, above.
inline constexpr double idle_bounds_v[] = {-0.05, 0.05, 0.2, 0.4};
[[nodiscard]] Chances idle_chances(World const& world, int position, std::size_t devices);
// Ohms at the head: below 50, to 95, to 170, to 500, above or open.
inline constexpr double ohms_bounds[] = {50.0, 95.0, 170.0, 500.0};
[[nodiscard]] Chances ohms_chances(World const& world, std::size_t devices, double length_m);
// Volts between the commons: below 1, to 7, above.
inline constexpr double common_bounds_v[] = {1.0, 7.0};
[[nodiscard]] Chances common_chances(World const& world);

[[nodiscard]] Chances other_format_chances(World const& world);   // one answers; none
[[nodiscard]] Chances search_chances(World const& world);         // a stranger answers; none
[[nodiscard]] Chances listen_chances(World const& world);         // bytes; silence
[[nodiscard]] Chances swap_chances(World const& world, int after);  // those behind answer; nothing changes
[[nodiscard]] Chances look_chances(World const& world, int device);  // dark; as planned; other address; other format
[[nodiscard]] Chances unplug_chances(World const& world, int device);  // still answers; silence
[[nodiscard]] Chances again_chances(World const& world, int device);  // good; mixed; silence; bytes without a frame
[[nodiscard]] Chances halve_chances(World const& world, int after);  // those before it are clean; they are not

}  // namespace phasewright::linefault
