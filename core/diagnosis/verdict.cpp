#include "core/diagnosis/verdict.hpp"

namespace phasewright::diagnosis {

std::string_view name_of(State state) {
    switch (state) {
        case State::as_planned: return "as_planned";
        case State::mistake: return "mistake";
        case State::undecided: return "undecided";
        case State::unproven: return "unproven";
        case State::contradictory: return "contradictory";
    }
    return "undecided";
}

std::string_view name_of(Severity severity) {
    switch (severity) {
        case Severity::stop: return "stop";
        case Severity::mend: return "mend";
        case Severity::mind: return "mind";
    }
    return "mind";
}

std::string_view name_of(EnergyLaw law) {
    switch (law) {
        case EnergyLaw::exact: return "exact";
        case EnergyLaw::factor: return "factor";
        case EnergyLaw::band: return "band";
        case EnergyLaw::lost: return "lost";
    }
    return "lost";
}

}  // namespace phasewright::diagnosis
