// The parts of the switching test: what each meter did in a step, and how probable each pairing of the
// circuits that were switched with meters is. switching.hpp says how.
#pragma once
#include "core/evidence/switching.hpp"

namespace phasewright::evidence {

inline constexpr int no_meter = -1;

struct Motion {  // of one meter in one step
    double before = 0.0, during = 0.0, change = 0.0;
    double noise = 0.0;       // of the change, were nothing switched
    double log_moved = 0.0;   // log likelihood: it follows the circuit
    double log_stayed = 0.0;  // it does not
    [[nodiscard]] double gain() const { return log_moved - log_stayed; }
};
[[nodiscard]] Motion motion_of(SwitchedReadings const& readings, SwitchingSettings const& settings);

// How many exchanges make this pairing from the plan. `meter_of[c]`: where tested circuit c was found, or
// no_meter; a circuit that was not tested is -2 and closes the chain that reaches it.
inline constexpr int not_tested = -2;
[[nodiscard]] std::vector<int> completed(std::vector<int> meter_of);
[[nodiscard]] double log_prior(std::vector<int> const& complete, std::vector<SwitchedMeter> const& meters,
                               SwitchingSettings const& settings);

struct Pairing {
    std::vector<int> meter_of;  // completed: one a circuit
    double probability = 0.0;
};
// Of the tested circuits `tested`, whose gains are gains[k][m]; the improbable ones left out.
[[nodiscard]] std::vector<Pairing> pairings_of(std::vector<std::size_t> const& tested,
                                               std::vector<std::vector<double>> const& gains,
                                               std::vector<SwitchedMeter> const& meters,
                                               SwitchingSettings const& settings);

}  // namespace phasewright::evidence
