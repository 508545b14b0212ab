// The spread of restated energy: the Monte Carlo method of core/quantity/band.hpp, 5 % below the interval and
// 5 % above.
#pragma once
#include <cstddef>
#include <cstdint>
#include <functional>

#include "core/quantity/band.hpp"

namespace phasewright::correction {

using quantity::Dice;
using quantity::least_draws_of_a_band;

struct Band {
    double mean = 0.0;
    double sd = 0.0;
    double p05 = 0.0;
    double p95 = 0.0;
    std::size_t draws = 0;
    bool settled = false;  // false: the most draws were made and the tolerance was not reached
};

[[nodiscard]] Band band_of(std::function<double(Dice&)> const& draw, std::uint64_t seed,
                           std::size_t least_draws = least_draws_of_a_band);

}  // namespace phasewright::correction
