// The spread of a number whose inputs are uncertain, by drawing the inputs again and again: the Monte Carlo
// method of JCGM 101:2008, with the adaptive procedure of its clause 7.9. Batches of 10^4 draws are added
// until the mean, the standard deviation and both end points are settled: twice the standard deviation of
// each one's average over the batches is below the tolerance, half of one unit in the first significant digit
// of the standard deviation (7.9.2). The interval is the probabilistically symmetric one: as much lies below
// it as above.
#pragma once
#include <cstddef>
#include <cstdint>
#include <functional>

#include "core/quantity/dice.hpp"

namespace phasewright::quantity {

struct Band {
    double mean = 0.0;
    double sd = 0.0;
    double low = 0.0;
    double high = 0.0;
    std::size_t draws = 0;
    bool settled = false;  // false: the most draws were made and the tolerance was not reached
};

inline constexpr std::size_t draws_a_batch = 10'000;
inline constexpr std::size_t least_draws_of_a_band = 100'000;
inline constexpr std::size_t most_draws_of_a_band = 600'000;

// `within` is the share that lies between low and high: 0.9 or 0.95.
[[nodiscard]] Band band_of(std::function<double(Dice&)> const& draw, std::uint64_t seed, double within,
                           std::size_t least_draws = least_draws_of_a_band);

}  // namespace phasewright::quantity
