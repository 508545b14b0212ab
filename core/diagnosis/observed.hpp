// A reading set made ready for inference: primary side, one row an element, snapshots of the same conditions joined.
// Lag angles come from P and Q where both are there; where a sign was not measured, every reading that agrees with
// what was measured is kept as a variant with its weight, so that nothing is guessed (docs/physics/likelihood.md §5).
#pragma once
#include <optional>
#include <vector>

#include "core/diagnosis/priors.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::diagnosis {

// One way to fill in the signs that were not measured.
struct LagVariant {
    double weight = 1.0;
    std::vector<std::optional<double>> lag_deg;  // one an element; empty: nothing known of it
};

struct Totals {
    double p_w = 0.0;
    std::optional<double> q_var;
};

// Snapshots under the same conditions (kind of load, generation): they share the site's mean angle and its
// imbalance, so they count as one reading whose wander is smaller, never as independent ones.
struct LoadGroup {
    std::size_t snapshots = 0;
    std::optional<bool> generation_running;
    std::optional<plan::LoadKind> kind;       // of the whole, or of the three-phase part where legs are told apart
    std::optional<plan::LoadKind> legs;
    std::vector<std::optional<double>> amps;  // geometric mean, as displayed; empty: not measured
    std::vector<bool> flowing;                // above the dead floor
    std::vector<LagVariant> lags;
    std::vector<double> lag_noise_deg;
    std::optional<Totals> totals;             // only where no element tells its own power
    std::optional<double> neutral_a;          // as displayed; from a fourth CT, or summed by the meter
};

struct Observed {
    std::size_t elements = 0;
    std::vector<std::optional<double>> volts;    // mean over the snapshots, element to its minus side
    std::vector<bool> clashes;                   // volts times amperes do not give the element's power
    std::vector<std::optional<double>> line_volts;
    std::vector<std::optional<double>> volt_angle_deg;  // relative to the first element that has one
    std::optional<plan::Sequence> sequence;
    std::vector<LoadGroup> groups;
    LoadGroup last;               // the last snapshot alone: what the true power is asked of
    std::vector<std::optional<double>> last_volts;
    double full_load_a = 100.0;   // breaker, or the CT's rated primary
    std::vector<double> ct_primary_a;  // one an element
    std::vector<double> dead_floor_a;  // one an element
    double volts_resolution = 0.0;
};

// Assumes that the set passed readings::check.
[[nodiscard]] Observed observed_of(readings::ReadingSet const& set, Thresholds const& thresholds);

// The last snapshot on the primary side, with lag angles where they are certain.
struct PrimaryElement {
    std::optional<quantity::Volts<quantity::Side::primary>> v;
    std::optional<quantity::Amps<quantity::Side::primary>> i;
    std::optional<quantity::Watts<quantity::Side::primary>> p;
    std::optional<quantity::Vars<quantity::Side::primary>> q;
    std::optional<quantity::Degrees> lag;
};
[[nodiscard]] std::vector<PrimaryElement> primary_elements(readings::ReadingSet const& set,
                                                           readings::Snapshot const& snapshot);

}  // namespace phasewright::diagnosis
