// Round things side by side in a round or square-cornered hole: each is laid into a corner that is left,
// between two others or one and the wall, as far from the middle as it goes; many orders are tried. An
// arrangement that is found is a proof; one that is not found is none.
#pragma once
#include <span>

namespace phasewright::chain {

struct Hole {
    double width = 0.0;
    double height = 0.0;  // of a round one: as its width
    bool round = true;
};
[[nodiscard]] bool lies_in(Hole const& hole, std::span<double const> diameters);

}  // namespace phasewright::chain
