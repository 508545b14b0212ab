// The leads between a current transformer and the meter. The current goes there and back: with a return of
// its own through 2 l r; where three CTs share one return it carries the sum of their currents, nothing for a
// balanced load, and each CT drives its current through l r only. With one phase loaded the common return
// carries that phase's current in full, and it is 2 l r again (docs/physics/chain.md, equation 4).
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/chain/conductor.hpp"
#include "core/plan/instruments.hpp"

namespace phasewright::chain {

struct LeadLoop {
    double ohm = 0.0;            // that one CT drives its current through, at a balanced load
    double one_phase_ohm = 0.0;  // and where it alone is loaded
    Resistance wire;
    std::vector<std::string> assumed;  // what the plan did not say: "copper", "20 °C"
};

// Empty where the lead's size is not known.
[[nodiscard]] std::optional<LeadLoop> lead_loop(plan::Lead const& lead);

// The longest lead, one way, whose loop stays within `ohm`; metres.
[[nodiscard]] std::optional<double> longest_lead_m(plan::Lead const& lead, double ohm);

}  // namespace phasewright::chain
