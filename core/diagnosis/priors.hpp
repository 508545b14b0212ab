// What is believed before any reading: how often each mistake is made, how loads lag, how supplies vary.
// All of it is editable data; the two sets differ because other mistakes are usual at a first commissioning than in
// a meter that has been in service. The odds are common practice, no source; the load-angle mixture and its spreads
// are this project's model (docs/physics/likelihood.md), chosen wide so that light or over-compensated loads raise no
// false alarm.
// A person edits them as a TOML file (docs/reference/priors.md): prior_numbers.hpp names every number for it.
#pragma once
#include <string>
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
    double ct_wrong_conductor = 0.009;
    double ct_dead = 0.012;
    double all_cts_dead = 0.015;       // shorting links left closed
    double two_taps_exchanged = 0.013;
    double taps_rotated = 0.015;       // each way
    double tap_doubled = 0.007;        // one phase feeds two terminals
    double tap_on_neutral = 0.005;    // phase and neutral exchanged; half of it for either landed on both
    double tap_lost = 0.012;
    double neutral_lost = 0.002;
    double supply_neutral_broken = 0.0015;  // the supply's own neutral, in front of the loads: no fault of the meter's
    double ratio_of_one = 0.008;       // for each element, over all wrong ratios together
    double ratio_of_all = 0.012;       // over all wrong ratios together
    double ratio_as_programmed = 4.0;  // the meter tells another ratio than the plan's
    double leads_crossed = 0.002;      // secondary leads of two CTs mis-paired; for each pair, each way
    double vt_reversed = 0.01;         // one voltage transformer
    double vt_ratio = 0.01;            // over all wrong ratios together
    double vars_turned = 0.001;        // the meter's sign of reactive power is not as told
    double raw_coil = 0.002;           // a raw coil on a voltage input, where the plan holds a voltage output
    double raw_coil_as_told = 4.0;     // the same, where plan and meter tell it
    double service_setting = 0.006;    // the meter is set to another service
    double service_setting_as_told = 4.0;
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

// What one kind of load does, apart from where the energy may go.
struct KindBelief {
    std::vector<AngleAtom> atoms;             // while it imports; the weights sum to one
    double export_share = 0.0;                // chance that it exports, where the flow was not told
    double unloaded_phase = 0.004;            // one phase of a loaded site carries nothing
    AngleAtom export_atom{1.0, 190.0, 20.0};  // while it exports; weight 1
};

// Chance that the point exports at this moment, where something of it was told.
struct ExportShares {
    double import_only = 0.002;
    double export_only = 0.98;
    double both = 0.5;                   // the kind of load was not told
    double both_kind_known = 0.25;
    double both_generation = 0.6;
    double not_running = 0.001;
    double running = 0.6;
    double running_generation = 0.995;
};

struct LoadBeliefs {
    KindBelief unknown, resistive, motor, electronic, mixed, generation, capacitive;
    ExportShares exports;
    double unloaded_site = 0.03;
    double lowest_share = 0.01;
};

struct Thresholds {
    double as_planned_at = 0.95;
    double mistake_at = 0.01;       // P(as planned) at or below it
    double listed_sum = 0.999;
    double low_load_share = 0.05;   // of the CT's rated primary: below it nothing is proved
    double dead_share = 0.004;      // of the CT's rated primary: below it an element counts as dead
    double stop_at = 0.01;          // probability from which a danger is named
};

// Everything believed before any reading, as one file holds it.
struct PriorSet {
    std::string name;  // "built-in first-commissioning", or the file's name; a verdict echoes it
    Odds odds;
    Spread spread;
    SupplyPriors supply;
    LoadBeliefs load;
    Thresholds thresholds;
};

// Which set a reading set gets by its field `prior`.
struct PriorSets {
    PriorSet commissioning, in_service;
};

// The same for one reading set: what is known of its site has been used.
struct Priors {
    std::string name;
    Odds odds;
    Spread spread;
    SupplyPriors supply;
    LoadBeliefs beliefs;  // for snapshots of which something else is known
    LoadPriors load;
    Thresholds thresholds;
};

[[nodiscard]] Odds odds_for(readings::Prior prior);
[[nodiscard]] LoadBeliefs built_in_loads();
[[nodiscard]] PriorSet built_in_priors(readings::Prior prior);
[[nodiscard]] PriorSets built_in_sets();

// What is believed of the load's angle, from its kind, the flow that is possible at the point, and whether
// generation is running at this moment.
[[nodiscard]] LoadPriors load_priors(LoadBeliefs const& beliefs, std::optional<plan::LoadKind> kind,
                                     std::optional<plan::Flow> flow, std::optional<bool> generation_running);
// The same from the built-in beliefs.
[[nodiscard]] LoadPriors load_priors(std::optional<plan::LoadKind> kind, std::optional<plan::Flow> flow,
                                     std::optional<bool> generation_running);

// The lag that a kind of load is most often seen with, degrees.
[[nodiscard]] double usual_lag_deg(LoadBeliefs const& beliefs, std::optional<plan::LoadKind> kind);

[[nodiscard]] Priors priors_for(readings::ReadingSet const& set, PriorSets const& sets);
[[nodiscard]] Priors priors_for(readings::ReadingSet const& set);  // from the built-in sets

}  // namespace phasewright::diagnosis
