// The probability of every hypothesis, given a reading set: log prior + log density of the volts + log density of
// the currents read back through the hypothesis, summed over what is not known (rotation at the source, signs that
// were not measured, load shape). Nothing is sampled.
#pragma once
#include <array>
#include <complex>
#include <optional>
#include <vector>

#include "core/diagnosis/landings.hpp"
#include "core/diagnosis/load_model.hpp"
#include "core/diagnosis/observed.hpp"
#include "core/diagnosis/outlook.hpp"
#include "core/diagnosis/supply_model.hpp"

namespace phasewright::diagnosis {

struct Posterior {
    std::vector<double> probability;          // one a hypothesis; sums to one
    std::vector<plan::Sequence> rotation;     // the likelier rotation at the source under each hypothesis
    double log_evidence = 0.0;                // of the whole reading set
};

[[nodiscard]] Posterior posterior_of(Outlook const& outlook, Observed const& observed, Priors const& priors,
                                     readings::ReadingSet const& set);

// The line currents that a hypothesis reads back from one group: per path of ServiceModel::live.
struct ReadBack {
    PathLags lag_deg;
    PathSizes log_amps;
    std::array<int, 3> element{-1, -1, -1};  // the element that tells of the path; -1: none does
};
[[nodiscard]] ReadBack read_back(Landings const& landings, std::size_t hypothesis, plan::Nominal const& nominal,
                                 plan::Sequence at_source, LoadGroup const& group, LagVariant const& lags);

}  // namespace phasewright::diagnosis
