// The least set of lead moves that turns a wiring into the plan, in the words of the terminals.
// A current loop is never opened under load: each repair there is a sequence in which every step proves the next one
// (short closed on the CT side, current seen in the short, none at the meter, only then the leads). Voltage leads are
// moved dead. The cautions are common practice; local codes and licensed practice decide.
#pragma once
#include <vector>

#include "core/diagnosis/differences.hpp"
#include "core/diagnosis/verdict.hpp"
#include "core/quantity/quantity.hpp"

namespace phasewright::diagnosis {

struct RepairContext {
    plan::ServiceModel const& model;
    Names const& names;
    plan::CtOutput ct_output = plan::CtOutput::unknown;
    std::vector<ElementValues> const& after;  // predicted once it is mended; may be empty
    std::vector<quantity::TransformerRatio> ct_planned;
};

[[nodiscard]] std::vector<Move> repair_of(std::vector<Difference> const& differences, RepairContext const& context);

// What is dangerous about a wiring, or empty.
[[nodiscard]] std::string hazard_of(std::vector<Difference> const& differences, plan::CtOutput ct_output);

}  // namespace phasewright::diagnosis
