// What a verdict rests on, echoed so that a reader can judge it: thresholds, priors, site facts, and which of the
// fields that were sent are not used.
#pragma once
#include "core/diagnosis/priors.hpp"
#include "core/diagnosis/verdict.hpp"

namespace phasewright::diagnosis {

[[nodiscard]] Given given_of(readings::ReadingSet const& set, Priors const& priors);

}  // namespace phasewright::diagnosis
