// One-phase circuits on the inputs of a meter. A current measured on one phase and multiplied with the
// voltage of another gives a third of the watts or less and looks like a load of bad power factor; so every
// circuit's phase is taken from the panel's pole map, and each input gets the voltage of its own circuit.
// Meters are wired with their voltages in the order of the phases; circuits are laid on inputs so that as few
// voltage leads as possible leave that order, which is an assignment problem (assignment.hpp). Nobody knows a
// phase from a map alone: it is to be measured before the first reading.
#pragma once
#include <string>
#include <vector>

#include "core/design/catalogue.hpp"
#include "core/design/proposal.hpp"
#include "core/design/settings.hpp"
#include "core/plan/site.hpp"

namespace phasewright::design {

// Which input each circuit goes to; inputs in the order of the phases a, b, c, a, ..
struct OnInputs {
    std::vector<std::size_t> input_of;  // per circuit
    int out_of_order = 0;               // inputs whose voltage is not the usual one
};
[[nodiscard]] OnInputs circuits_on_inputs(std::vector<plan::Conductor> const& phases, std::size_t inputs);

// Circuits of one panel on as few meters as possible, every one on an input of its own phase; a meter has one
// input a phase.
[[nodiscard]] std::vector<std::vector<std::size_t>> circuits_on_meters(
    std::vector<plan::Conductor> const& phases);

// Completes the phases of branches, and of one-phase points whose way is on the map.
[[nodiscard]] std::vector<Proposal> choose_phases(plan::Site& site);
// Offers to let one-phase points of one panel and one breaker rating share meters, since a meter is
// programmed with one ratio for all inputs; with settings.share_meters it does so.
[[nodiscard]] std::vector<Proposal> choose_sharing(plan::Site& site, std::vector<MeterOffer> const& offers,
                                                   Settings const& settings);

}  // namespace phasewright::design
