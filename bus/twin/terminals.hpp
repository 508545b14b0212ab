// From the conductors to the meter's terminals: what each voltage terminal and each current input gets,
// sample by sample, given where the leads run.
#pragma once
#include <array>
#include <vector>

#include "bus/twin/waveform.hpp"
#include "core/plan/service.hpp"

namespace phasewright::twin {

// A terminal's potential is a weighted sum of the conductors' (a, b, c, n): 1 for the one it touches, a
// smaller number for a ghost, and for a floating one whatever the equal resistances between plus and minus of
// each element make of the others. Terminals in order, then the neutral terminal, then the star point inside
// the meter, where they exist.
using Weights = std::array<double, 4>;
[[nodiscard]] std::vector<Weights> weights_of(plan::ServiceModel const& model, WiredPoint const& wired,
                                              std::array<double, 4> const& source_rms);

// What the meter's converters see, in primary amperes as the meter scales them.
struct Inputs {
    std::vector<Wave> potentials;  // as weights_of orders them
    std::vector<Wave> currents;    // one a current input
    double step_s = 0.0;
};
[[nodiscard]] Inputs inputs_of(plan::ServiceModel const& model, WiredPoint const& wired, Supply const& supply,
                               Waves const& waves, Dice& dice);

// Index into `potentials` of the place that an element's minus side goes to.
[[nodiscard]] std::size_t minus_of(plan::ServiceModel const& model, plan::ElementPlan const& element);

}  // namespace phasewright::twin
