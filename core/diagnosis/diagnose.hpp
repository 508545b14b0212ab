// The door of the heart: one reading set in, one verdict out. Pure: no clock, no dice, no files.
#pragma once
#include <expected>

#include "core/diagnosis/verdict.hpp"
#include "core/quantity/fault.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::diagnosis {

// Assumes that `set` passed readings::check; what is wrong on the site comes back as findings, never as a fault.
[[nodiscard]] Verdict diagnose(readings::ReadingSet const& set);

}  // namespace phasewright::diagnosis
