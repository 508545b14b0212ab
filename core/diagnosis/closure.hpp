// Three wires: what flows in must flow out, so the true line currents sum to zero. With all three read, the sum is a
// sharp test of every ratio and direction; with two, the third is their sum turned round, and must itself be a likely
// load (docs/physics/likelihood.md, 6). With one wire empty the load stands between the other two.
#pragma once
#include <array>

#include "core/diagnosis/load_grid.hpp"

namespace phasewright::diagnosis {

struct LoadReadBack {
    PathLags lag_deg;
    PathSizes log_amps;
    std::array<std::size_t, 3> element{};  // whose trust each lag has
    std::array<bool, 3> empty{};           // paths that surely carry nothing
};

// Density of the lags and sizes (per degree, per unit of logarithm) of a load whose currents sum to zero.
// `own` is the product of the two halves summed over shapes, of which `beside` is what the load does not explain (dead
// and doubled inputs); `derived` is the trust of a lag that follows from the other two.
[[nodiscard]] double closed_density(LoadGrid& grid, LoadReadBack const& load, std::array<double, 3> const& path_angle_deg,
                                    std::size_t derived, double own, double beside);

}  // namespace phasewright::diagnosis
