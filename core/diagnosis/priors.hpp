// What is believed before any reading: how often each mistake is made, how loads lag, how supplies vary.
// All of it is editable data; the two sets differ because other mistakes are usual at a first commissioning than in
// a meter that has been in service. The odds are common practice, no source; the load-angle mixture and its spreads
// are this project's model (docs/physics/likelihood.md), chosen wide so that light or over-compensated loads raise no
// false alarm.
#pragma once
#include <vector>

#include "core/plan/site.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::diagnosis {

// Odds of one primitive mistake against none, each for one place (one CT, one pair, one terminal).
struct Odds {
    double ct_reversed = 0.03;
    double all_cts_reversed = 0.06;    // one misunderstanding of the arrow turns them all
    double two_cts_exchanged = 0.015;
    double cts_rotated = 0.035;         // each way; one misreading of the order moves them all
    double ct_wrong_conductor = 0.007;
    double ct_dead = 0.012;
    double all_cts_dead = 0.015;       // shorting links left closed
    double two_taps_exchanged = 0.013;
    double taps_rotated = 0.015;       // each way
    double tap_doubled = 0.005;        // one phase feeds two terminals
    double tap_on_neutral = 0.003;    // phase and neutral exchanged; half of it for either landed on both
    double tap_lost = 0.012;
    double neutral_lost = 0.002;
    double ratio_of_one = 0.008;       // for each element, over all wrong ratios together
    double ratio_of_all = 0.012;       // over all wrong ratios together
    double ratio_as_programmed = 4.0;  // the meter tells another ratio than the plan's
};

// One normal in the mixture for the site's mean load angle (degrees, positive lagging).
struct AngleAtom {
    double weight = 0.0;
    double mean_deg = 0.0;
    double sigma_deg = 0.0;
};

struct Spread {
    double wander_deg = 8.0;             // the site's mean angle, from snapshot to snapshot
    double phase_deg = 8.0;              // one phase against the site's mean
    double phase_tail_deg = 20.0;
    double phase_tail_weight = 0.2;
    double phase_outlier_weight = 0.001;  // a freakish phase: any angle
    double clash_outlier_weight = 0.2;    // the same, where volts times amperes do not give the power
    double log_magnitude = 0.3;          // one phase's current against the site's, in the natural logarithm
    double log_magnitude_tail = 1.0;
    double log_magnitude_tail_weight = 0.05;
};

struct SupplyPriors {
    double common = 0.03;           // the whole supply against nominal, relative
    double common_tail = 0.08;
    double common_tail_weight = 0.1;
    double phase = 0.012;           // one phase against the others, relative
    double phase_tail = 0.05;
    double phase_tail_weight = 0.08;
    double angle_deg = 1.2;
    double outlier_weight = 0.004;  // a field that means nothing
    double clash_weight = 0.2;      // the same, where volts times amperes do not give the power
    double stray_weight = 0.5;      // a lost tap shows stray volts of any size rather than nearly nothing
    double sequence_abc = 0.93;     // where the rotation at the source is not known
    double sequence_known = 0.995;  // where it was told
};

struct LoadPriors {
    std::vector<AngleAtom> atoms;
    double unloaded_phase = 0.004;  // one phase of a loaded site carries nothing
    double unloaded_site = 0.03;    // nothing is switched on
    double lowest_share = 0.01;     // of the breaker: the site's level is uniform in the logarithm from here to 1
};

struct Thresholds {
    double as_planned_at = 0.95;
    double mistake_at = 0.01;       // P(as planned) at or below it
    double listed_sum = 0.999;
    double low_load_share = 0.05;   // of the CT's rated primary: below it nothing is proved
    double dead_share = 0.004;      // of the CT's rated primary: below it an element counts as dead
    double stop_at = 0.01;          // probability from which a danger is named
};

struct Priors {
    Odds odds;
    Spread spread;
    SupplyPriors supply;
    LoadPriors load;
    Thresholds thresholds;
};

[[nodiscard]] Odds odds_for(readings::Prior prior);

// What is believed of the load's angle, from its kind, the flow that is possible at the point, and whether
// generation is running at this moment.
[[nodiscard]] LoadPriors load_priors(std::optional<plan::LoadKind> kind, std::optional<plan::Flow> flow,
                                     std::optional<bool> generation_running);

[[nodiscard]] Priors priors_for(readings::ReadingSet const& set);

}  // namespace phasewright::diagnosis
