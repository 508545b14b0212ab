// What an ideal meter reads of a wiring: for measurements of speed, where no truth is at stake.
#pragma once
#include "core/readings/reading_set.hpp"
#include "core/wiring/wiring.hpp"

namespace phasewright::benchmarks {

// A load of `amps` and `lag_deg` on the first conductor and `amps_step`, `lag_step_deg` more on each further one.
struct StepwiseLoad {
    double amps = 40.0, amps_step = 5.0;
    double lag_deg = 20.0, lag_step_deg = 3.0;
};
[[nodiscard]] readings::ReadingSet ideal_reading(plan::Service service, wiring::Wiring const& wired, StepwiseLoad const& load);

}  // namespace phasewright::benchmarks
