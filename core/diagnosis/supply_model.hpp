// How likely are the volts a meter shows, if its taps land as a hypothesis says?
// The supply is near nominal as a whole and nearly balanced (EN 50160 keeps it within 10 %), so a tap on the wrong
// conductor is betrayed by size only where sizes differ (neutral, high leg, two taps on one phase); otherwise by the
// angles, where the meter shows them. A lost tap rarely shows exactly zero: it floats to stray volts of any size.
#pragma once
#include <array>
#include <complex>
#include <optional>
#include <vector>

#include "core/diagnosis/landings.hpp"
#include "core/diagnosis/observed.hpp"

namespace phasewright::diagnosis {

// What a tap landing predicts at nominal supply.
struct TapView {
    std::array<double, 3> relative_size{};             // |v_k| over the planned |v_k|
    std::array<std::optional<double>, 3> angle_deg{};  // of v_k in the source's frame; empty: lost, or no volts
    std::array<std::optional<double>, 3> line_size{};  // |v| between the pairs of ServiceModel::line_pairs, in volts
    std::array<bool, 3> stray{};                       // the element's own tap is lost
    std::optional<plan::Sequence> shown;               // the rotation that the meter would show
    bool neutral_lost = false;
    bool star_floats = false;  // the supply's neutral is broken: the loads' star point is anywhere
};
// Potentials that the voltage terminals stand at behind their voltage transformers, against the neutral or, where a meter
// has a common terminal, against that; empty: lost.
using TerminalPotentials = std::array<std::optional<std::complex<double>>, 3>;
[[nodiscard]] TerminalPotentials potentials_of(TapLanding const& tap, plan::ServiceModel const& model, plan::SourcePhasors const& u);
// The rotation that those show; empty when they show none.
[[nodiscard]] std::optional<plan::Sequence> sequence_of(TerminalPotentials const& at, plan::ServiceModel const& model, double least_area);

[[nodiscard]] TapView view_of(TapLanding const& tap, plan::ServiceModel const& model, plan::Nominal const& nominal,
                              plan::Sequence at_source);

// Densities of the observed volts, line volts and angles (relative sizes and degrees), one a view.
[[nodiscard]] std::vector<double> densities_of_volts(std::vector<TapView> const& views, plan::ServiceModel const& model,
                                                     plan::Nominal const& nominal, Observed const& observed,
                                                     SupplyPriors const& priors, plan::Sequence at_source);

}  // namespace phasewright::diagnosis
