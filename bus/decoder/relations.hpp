// What one quantity says about another, as densities: three voltages near the nominal, line voltages sqrt(3) larger,
// P no larger than V I, S^2 = P^2 + Q^2, totals that are sums, counters that rise as the power beside them says.
// Power: IEEE Std 1459-2010, definitions for sinusoidal conditions (docs/reference/directions.md has the signs).
#pragma once
#include "bus/decoder/likelihood.hpp"

namespace phasewright::decoder {

[[nodiscard]] std::size_t fields_of(Quantity quantity, std::size_t phases);  // two phases have one line voltage

// ln of the density of this number per SI unit; `rows` are the rows that it stands in.
[[nodiscard]] double log_density(Quantity quantity, Rows const& rows, Picture const& picture, std::size_t dump,
                                 std::size_t phase);

}  // namespace phasewright::decoder
