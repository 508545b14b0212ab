// The same uncertainty once more by JCGM 101:2008: every instrument's error drawn within its limits again and
// again, the energy reckoned each time with the exact formula, over the point's loads. It needs no
// derivatives and no k: its interval holds 95 % by counting. Equal to the budget where the errors are small
// (docs/physics/chain.md, equation 16).
#pragma once
#include <cstdint>
#include <span>

#include "core/chain/point_chain.hpp"
#include "core/quantity/band.hpp"

namespace phasewright::chain {

struct DrawnAccuracy {
    std::optional<quantity::Band> band;  // of the error of active energy in percent; low and high hold 95 %
    std::optional<Silent> silent;        // where a class states nothing
};
[[nodiscard]] DrawnAccuracy drawn_accuracy(PointChain const& chain, std::span<LoadPoint const> loads,
                                           std::uint64_t seed,
                                           std::size_t least_draws = quantity::least_draws_of_a_band);

}  // namespace phasewright::chain
