// A known load switched on between two snapshots: the difference of the two readings, element by element.
#pragma once
#include <vector>

#include "core/diagnosis/answers.hpp"

namespace phasewright::diagnosis {

void weigh_steps(AnswerBasis const& basis, std::vector<double>& log_weight);

}  // namespace phasewright::diagnosis
