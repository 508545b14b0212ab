// What became of the energies counted before, when a ratio was written: kept, or shown anew by the new ratio.
//   r = after / before, f = new ratio / old ratio;   kept: |ln r| < 0.1 |ln f|;   rescaled: |ln r - ln f| <
//   0.1 |ln f|
#pragma once
#include <string>
#include <vector>

#include "bus/profile/energy.hpp"
#include "bus/program/journal.hpp"

namespace phasewright::program {

[[nodiscard]] OldTotals judged_totals(std::vector<profile::EnergyCount> const& before,
                                      std::vector<profile::EnergyCount> const& after, double factor);
[[nodiscard]] Energies values_of(std::vector<profile::EnergyCount> const& counts);
[[nodiscard]] std::vector<std::string> totals_words(std::vector<profile::EnergyCount> const& before,
                                                    std::vector<profile::EnergyCount> const& after);

}  // namespace phasewright::program
