// How likely are the line currents that a hypothesis reads back from the meter?
// Angles: the site has a mean load angle (a mixture, by kind of load); each phase lies about it. Sizes: the site's
// level is uniform in the logarithm up to full load; each phase lies about it. Services whose phases are not alike
// (two phases of a wye with line-to-line load, high-leg deltas with lighting legs) are mixtures of load shapes, each of
// which shifts the phases' angles and sizes by what phasor addition gives (docs/physics/likelihood.md, 2 to 4).
#pragma once
#include <array>
#include <optional>
#include <vector>

#include "core/diagnosis/priors.hpp"

namespace phasewright::diagnosis {

// One way in which the load may be shared among the paths of ServiceModel::live.
struct LoadShape {
    double weight = 1.0;
    std::array<double, 3> angle_shift_deg{};  // added to the site's angle on each path
    std::array<double, 3> log_size_shift{};   // added to the site's level on each path
    double spread_factor = 1.0;               // on the phases' own angle spread
    double size_factor = 1.0;                 // on the phases' own size spread
    // The shape goes with site angles no further than 90 degrees from this; empty: with any.
    std::optional<double> about_deg;
};

[[nodiscard]] bool goes_with(LoadShape const& shape, double site_angle_deg);

// `legs_behind_deg`: by how much more the lighting legs of a high-leg delta lag than its three-phase part.
[[nodiscard]] std::vector<LoadShape> load_shapes(plan::ServiceModel const& model, plan::SourcePhasors const& u,
                                                 double legs_behind_deg = 0.0);

using PathLags = std::array<std::optional<double>, 3>;   // degrees, V of the path's conductor minus its current
using PathSizes = std::array<std::optional<double>, 3>;  // natural logarithm of amperes

struct LoadModel {
    LoadPriors load;
    Spread spread;
    std::vector<LoadShape> shapes;
    double log_full_load = 0.0;
    double snapshots = 1.0;          // that share the site's mean angle and imbalance
    bool independent_paths = false;  // several one-phase loads: nothing is shared
};

}  // namespace phasewright::diagnosis
