// Answers that are powers: another meter on the same load, and a known change of the load.
//
// Another meter shows the true power, so it is compared with the load read back through the hypothesis. A
// load that is switched on, or generation that is stopped, adds a resistive current dJ = U / |U|^2 per watt
// on its conductors, and element k moves by Re(v_k conj(M dJ)_k): by the whole when it is paired right, by
// minus the whole when reversed, by half and against when it sees another phase's current. Generation at
// unity power factor that stops is such a load. Where the size is not known it is summed over, evenly in the
// logarithm. docs/physics/likelihood.md, section 7.
#pragma once
#include <vector>

#include "core/diagnosis/answers.hpp"

namespace phasewright::diagnosis {

[[nodiscard]] bool is_other_power(readings::TestAnswer const& answer);
[[nodiscard]] bool is_power_change(readings::TestAnswer const& answer);

// Adds the logarithm of the density of every such answer.
void weigh_powers(AnswerBasis const& basis, std::vector<double>& log_weight);

// How an element moves for one watt of resistive load on some conductors. Where its own tap is lost its volts
// are stray: then it moves by those volts times `stray_a`, at an angle of which nothing is known.
struct MovedPerWatt {
    double w = 0.0;
    double stray_a = 0.0;
};
[[nodiscard]] std::vector<MovedPerWatt> moved_per_watt(wiring::Seen const& seen,
                                                       plan::ServiceModel const& model,
                                                       plan::SourcePhasors const& u,
                                                       std::vector<plan::Conductor> const& conductors);
// The conductors of the load that an answer speaks of: the one at its place, or all live ones.
[[nodiscard]] std::vector<plan::Conductor> conductors_of(readings::TestAnswer const& answer,
                                                         readings::ReadingSet const& set,
                                                         plan::ServiceModel const& model);

}  // namespace phasewright::diagnosis
