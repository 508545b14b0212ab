#include "core/correction/band.hpp"

namespace phasewright::correction {

Band band_of(std::function<double(Dice&)> const& draw, std::uint64_t seed, std::size_t least_draws) {
    auto const band = quantity::band_of(draw, seed, 0.9, least_draws);
    return {band.mean, band.sd, band.low, band.high, band.draws, band.settled};
}

}  // namespace phasewright::correction
