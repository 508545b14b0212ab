// A star point that floats: loads between the phases and a neutral that is broken in front of them, or a meter's inputs
// whose common lead is open. Every element then shows v_k = U_k - V0 with one V0 that nobody chose:
//     V0 = sum(Y_k U_k) / sum(Y_k)          (Millman; the Y are admittances of loads, or of the meter's inputs)
// Three magnitudes tell V0 and the size of the supply's triangle; of two legs their ratio tells where between the legs the
// point stands, and their sum the line voltage. So the volts are unequal and yet hang together, and the angles between
// them follow. Assumes the line volts sound and nearly balanced.
// Where it is the supply's neutral that is broken, what flows in the phases must return in the phases: sum(i) = 0.
#pragma once
#include <array>
#include <complex>
#include <optional>

#include "core/diagnosis/observed.hpp"
#include "core/diagnosis/priors.hpp"

namespace phasewright::diagnosis {

// Where the point stands, V against the supply's own neutral, and what that makes of the elements; `scale` is the supply
// over its nominal.
struct FloatingStar {
    std::complex<double> point;
    double scale = 1.0;
    std::array<std::complex<double>, 3> volts{};  // of the elements
    double density = 0.0;  // prior of the point and the scale, per unit of each relative size that tells of them
};
// From the sizes alone; empty where one is missing or no point explains them.
[[nodiscard]] std::optional<FloatingStar> floating_star(plan::ServiceModel const& model, plan::SourcePhasors const& u,
                                                        Observed const& observed, SupplyPriors const& priors);

// Density of the observed sizes (relative to planned) and angles (degrees), as densities_of_volts counts them, apart from
// line volts and rotation.
[[nodiscard]] double floating_star_density(plan::ServiceModel const& model, plan::SourcePhasors const& u,
                                           Observed const& observed, SupplyPriors const& priors);

// How much likelier phase currents whose sum is `off` of their mean are where they must return in the phases than where
// they need not. Bounded on both sides: balanced loads sum to nothing anyhow, and some current finds a way through earth.
inline constexpr double most_by_returning = 20.0;
[[nodiscard]] double likelier_by_returning(double off);

}  // namespace phasewright::diagnosis
