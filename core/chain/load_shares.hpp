// Which part of the active power hangs on which current transformer and which element. On four wires each
// element counts a third at the load's own angle. On two elements they stand 30 degrees to either side of it:
// there a CT's phase error matters even at power factor 1, as far as the two CTs do not err alike. A derived
// current hangs on both others.
//   S_kj = V_k c_kj conj(I_j),   sum Re S_kj = 1      (element k, current input j; docs/physics/chain.md,
//   equation 14)
// For a balanced load of one lag at nominal volts.
#pragma once
#include <array>
#include <complex>
#include <cstddef>

#include "core/plan/service.hpp"
#include "core/quantity/angle.hpp"

namespace phasewright::chain {

inline constexpr std::size_t most_in_a_meter = 3;  // elements, and current inputs

struct LoadShares {
    std::size_t elements = 0;
    std::size_t inputs = 0;
    std::array<std::array<std::complex<double>, most_in_a_meter>, most_in_a_meter> of{};  // [element][input]

    // Of one current input, and of one element's voltage.
    [[nodiscard]] std::complex<double> of_input(std::size_t input) const;
    [[nodiscard]] std::complex<double> of_element(std::size_t element) const;
};
[[nodiscard]] LoadShares load_shares(plan::ServiceModel const& model, plan::Nominal const& nominal,
                                     quantity::Degrees lag);

}  // namespace phasewright::chain
