// How well a metering point will measure active energy, said before it is built: at its least, usual and
// highest current, from which current on the accuracy that was wanted can be shown, and what spoils it most.
//   "±1.2 % (k = 2) at the usual 45 A; ±2 % cannot be shown below 24 A"
// Shown means: by the classes on the plates alone. A calibrated instrument may well be better, and a class
// that says nothing at a current does not say that it is bad there.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/chain/point_chain.hpp"

namespace phasewright::chain {

struct AtCurrent {
    double current_a = 0.0;  // per phase, primary
    double power_factor = 1.0;
    std::optional<Budget> budget;
    std::optional<Silent> silent;  // why there is none
};

enum class Shown {
    not_asked,  // the plan wants no accuracy
    yes,        // at the usual current and above (at the least, where no usual one is given)
    no,
    cannot_tell  // no current is planned
};

struct PointAccuracy {
    std::optional<AtCurrent> least, usual, most;  // empty: the plan names no such current
    std::optional<double> wanted_percent;
    Shown shown = Shown::not_asked;
    std::optional<double> shown_from_a;   // lowest current from which it holds, up to where the classes end
    std::optional<double> stated_from_a;  // lowest current at which every class says something
    std::optional<double> stated_to_a;    // and highest
    std::optional<Part> dominating;       // at the usual current
    bool output_fits = true;  // false: the meter does not take this transformer's output; nothing holds
    std::vector<Citation> unconfirmed;  // limits from memory that it rests on: they judge nothing alone
    std::vector<std::string> assumed;
};

// `meter` may be null: then its class is assumed, or nothing can be said.
[[nodiscard]] PointAccuracy point_accuracy(plan::MeteringPoint const& point, plan::Nominal const& nominal,
                                           plan::MeterHardware const* meter,
                                           Assumptions const& assumptions = {});

// The lowest current from which the expanded uncertainty stays within `percent`, at this power factor.
[[nodiscard]] std::optional<double> shown_from_a(PointChain const& chain, LoadPoint load, double percent);

// One sentence a line, for people.
[[nodiscard]] std::vector<std::string> words_of(PointAccuracy const& accuracy);
[[nodiscard]] std::string words_of(AtCurrent const& at);  // "±1.2 % (k = 2) at 45 A, power factor 0.8"

}  // namespace phasewright::chain
