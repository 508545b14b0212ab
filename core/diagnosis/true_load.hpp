// What the load really was, read back through a wiring: the corrected power, how sure it is, and what the meter will
// show of the same load once the wiring is mended.
#pragma once
#include <vector>

#include "core/diagnosis/landings.hpp"
#include "core/diagnosis/posterior.hpp"
#include "core/diagnosis/verdict.hpp"

namespace phasewright::diagnosis {

struct TrueLoad {
    TruePower power;
    EnergyLaw law = EnergyLaw::exact;
    std::vector<ElementValues> after_repair;  // empty when the load is not known
};

struct LoadQuestion {
    Landings const& landings;
    Observed const& observed;
    plan::Nominal const& nominal;
    std::vector<ElementValues> const& as_read;
};
[[nodiscard]] TrueLoad true_load(LoadQuestion const& question, std::size_t hypothesis, plan::Sequence at_source);

// The mixture over classes: mean kept from the first class, 5 and 95 % points from all that know their power.
[[nodiscard]] TruePower over_classes(std::vector<WiringClass> const& classes);

}  // namespace phasewright::diagnosis
