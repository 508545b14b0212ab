// Ten cycles of a building's supply and of one circuit's load, sample by sample, the way a meter's converters
// meet them: v(t) = sqrt(2) V (cos a + k5 cos 5a + k7 cos 7a), a = 2 pi f t + angle. Nothing here knows
// phasors of a meter or what a wrong connection does; a later file only hands these samples on.
#pragma once
#include <array>
#include <vector>

#include "bus/twin/dice.hpp"
#include "bus/twin/wired.hpp"

namespace phasewright::twin {

inline constexpr std::size_t samples_a_cycle = 128;
inline constexpr std::size_t cycles_a_window = 10;
inline constexpr std::size_t samples_a_window = samples_a_cycle * cycles_a_window;

using Wave = std::vector<double>;  // samples_a_window values

// By conductor a, b, c, n: potentials against the neutral (or centre), and currents from the source to the
// load.
struct Waves {
    std::array<Wave, 4> volts;
    std::array<Wave, 4> amps;
    double step_s = 0.0;  // between two samples
};

// `strays` has one entry a load.
[[nodiscard]] Waves waves_of(Supply const& supply, std::vector<Load> const& loads,
                             std::vector<Stray> const& strays);

// Rms of the fundamental of each conductor to the neutral; 0 where the supply has no such conductor.
[[nodiscard]] std::array<double, 4> rms_of(Supply const& supply);

}  // namespace phasewright::twin
