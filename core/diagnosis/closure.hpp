// Three wires: what flows in must flow out, so the true line currents sum to zero. With all three read, the sum is a
// sharp test of every ratio and direction; with two, the third is their sum turned round (docs/physics/likelihood.md, 6).
#pragma once
#include <array>

#include "core/diagnosis/load_model.hpp"

namespace phasewright::diagnosis {

// Density of the lags and sizes (per degree, per unit of logarithm) of a load whose currents sum to zero.
// `own` is the product of the two halves summed over shapes, used where all three paths are known.
[[nodiscard]] double closed_density(LoadModel const& model, PathLags const& lags, PathSizes const& log_amps,
                                    std::array<double, 3> const& path_angle_deg,
                                    PathTrust const& trust, double own);

}  // namespace phasewright::diagnosis
