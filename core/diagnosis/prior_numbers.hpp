// Every number of the priors by name: one list for the file that people edit, for the echo in a verdict and for the
// tests, so that none of the three can forget one. A number that joins a struct of priors.hpp without joining its list
// does not compile. docs/reference/priors.md says what each number means.
#pragma once
#include <array>
#include <string_view>

#include "core/diagnosis/priors.hpp"

namespace phasewright::diagnosis {

// What a number may be; nothing may make a density zero everywhere, so widths and shares of the freakish stay above 0.
struct NumberRange {
    double least = 0.0;
    double most = 1.0;
    bool above_least = false;  // `least` itself is not allowed
};
inline constexpr NumberRange any_odds{0.0, 1e6};
inline constexpr NumberRange any_share{0.0, 1.0, true};
inline constexpr NumberRange half_share{0.0, 0.45, true};
inline constexpr NumberRange any_width_deg{0.0, 180.0, true};
inline constexpr NumberRange any_width{0.0, 10.0, true};

template <class Set>
struct PriorNumber {
    std::string_view name;
    double Set::*at;
    NumberRange range;
};

inline constexpr std::array odds_numbers{
    PriorNumber<Odds>{"ct_reversed", &Odds::ct_reversed, any_odds},
    PriorNumber<Odds>{"all_cts_reversed", &Odds::all_cts_reversed, any_odds},
    PriorNumber<Odds>{"two_cts_exchanged", &Odds::two_cts_exchanged, any_odds},
    PriorNumber<Odds>{"cts_rotated", &Odds::cts_rotated, any_odds},
    PriorNumber<Odds>{"ct_wrong_conductor", &Odds::ct_wrong_conductor, any_odds},
    PriorNumber<Odds>{"ct_dead", &Odds::ct_dead, any_odds},
    PriorNumber<Odds>{"all_cts_dead", &Odds::all_cts_dead, any_odds},
    PriorNumber<Odds>{"two_taps_exchanged", &Odds::two_taps_exchanged, any_odds},
    PriorNumber<Odds>{"taps_rotated", &Odds::taps_rotated, any_odds},
    PriorNumber<Odds>{"tap_doubled", &Odds::tap_doubled, any_odds},
    PriorNumber<Odds>{"tap_on_neutral", &Odds::tap_on_neutral, any_odds},
    PriorNumber<Odds>{"tap_lost", &Odds::tap_lost, any_odds},
    PriorNumber<Odds>{"neutral_lost", &Odds::neutral_lost, any_odds},
    PriorNumber<Odds>{"supply_neutral_broken", &Odds::supply_neutral_broken, any_odds},
    PriorNumber<Odds>{"ratio_of_one", &Odds::ratio_of_one, any_odds},
    PriorNumber<Odds>{"ratio_of_all", &Odds::ratio_of_all, any_odds},
    PriorNumber<Odds>{"ratio_as_programmed", &Odds::ratio_as_programmed, any_odds},
    PriorNumber<Odds>{"leads_crossed", &Odds::leads_crossed, any_odds},
    PriorNumber<Odds>{"vt_reversed", &Odds::vt_reversed, any_odds},
    PriorNumber<Odds>{"vt_ratio", &Odds::vt_ratio, any_odds},
    PriorNumber<Odds>{"vars_turned", &Odds::vars_turned, any_odds},
    PriorNumber<Odds>{"raw_coil", &Odds::raw_coil, any_odds},
    PriorNumber<Odds>{"raw_coil_as_told", &Odds::raw_coil_as_told, any_odds},
    PriorNumber<Odds>{"service_setting", &Odds::service_setting, any_odds},
    PriorNumber<Odds>{"service_setting_as_told", &Odds::service_setting_as_told, any_odds},
};
static_assert(sizeof(Odds) == odds_numbers.size() * sizeof(double));

inline constexpr std::array spread_numbers{
    PriorNumber<Spread>{"site_angle_wander_deg", &Spread::wander_deg, any_width_deg},
    PriorNumber<Spread>{"phase_angle_deg", &Spread::phase_deg, any_width_deg},
    PriorNumber<Spread>{"phase_angle_tail_deg", &Spread::phase_tail_deg, any_width_deg},
    PriorNumber<Spread>{"phase_angle_tail_weight", &Spread::phase_tail_weight, half_share},
    PriorNumber<Spread>{"phase_angle_outlier_weight", &Spread::phase_outlier_weight, half_share},
    PriorNumber<Spread>{"phase_angle_clash_weight", &Spread::clash_outlier_weight, half_share},
    PriorNumber<Spread>{"phase_current_log", &Spread::log_magnitude, any_width},
    PriorNumber<Spread>{"phase_current_tail_log", &Spread::log_magnitude_tail, any_width},
    PriorNumber<Spread>{"phase_current_tail_weight", &Spread::log_magnitude_tail_weight, half_share},
};
static_assert(sizeof(Spread) == spread_numbers.size() * sizeof(double));

inline constexpr std::array supply_numbers{
    PriorNumber<SupplyPriors>{"whole_relative", &SupplyPriors::common, any_share},
    PriorNumber<SupplyPriors>{"whole_tail_relative", &SupplyPriors::common_tail, any_share},
    PriorNumber<SupplyPriors>{"whole_tail_weight", &SupplyPriors::common_tail_weight, half_share},
    PriorNumber<SupplyPriors>{"phase_relative", &SupplyPriors::phase, any_share},
    PriorNumber<SupplyPriors>{"phase_tail_relative", &SupplyPriors::phase_tail, any_share},
    PriorNumber<SupplyPriors>{"phase_tail_weight", &SupplyPriors::phase_tail_weight, half_share},
    PriorNumber<SupplyPriors>{"angle_deg", &SupplyPriors::angle_deg, any_width_deg},
    PriorNumber<SupplyPriors>{"outlier_weight", &SupplyPriors::outlier_weight, half_share},
    PriorNumber<SupplyPriors>{"clash_weight", &SupplyPriors::clash_weight, half_share},
    PriorNumber<SupplyPriors>{"stray_weight", &SupplyPriors::stray_weight, any_share},
    PriorNumber<SupplyPriors>{"sequence_abc_probability", &SupplyPriors::sequence_abc, any_share},
    PriorNumber<SupplyPriors>{"sequence_told_right_probability", &SupplyPriors::sequence_known, any_share},
};
static_assert(sizeof(SupplyPriors) == supply_numbers.size() * sizeof(double));

inline constexpr std::array export_numbers{
    PriorNumber<ExportShares>{"flow_import", &ExportShares::import_only, any_share},
    PriorNumber<ExportShares>{"flow_export", &ExportShares::export_only, any_share},
    PriorNumber<ExportShares>{"flow_both", &ExportShares::both, any_share},
    PriorNumber<ExportShares>{"flow_both_kind_known", &ExportShares::both_kind_known, any_share},
    PriorNumber<ExportShares>{"flow_both_generation", &ExportShares::both_generation, any_share},
    PriorNumber<ExportShares>{"generation_stopped", &ExportShares::not_running, any_share},
    PriorNumber<ExportShares>{"generation_running", &ExportShares::running, any_share},
    PriorNumber<ExportShares>{"generation_running_alone", &ExportShares::running_generation, any_share},
};
static_assert(sizeof(ExportShares) == export_numbers.size() * sizeof(double));

inline constexpr std::array kind_numbers{
    PriorNumber<KindBelief>{"export_probability", &KindBelief::export_share, any_share},
    PriorNumber<KindBelief>{"unloaded_phase_probability", &KindBelief::unloaded_phase, half_share},
};
inline constexpr std::array load_numbers{
    PriorNumber<LoadBeliefs>{"unloaded_site_probability", &LoadBeliefs::unloaded_site, half_share},
    PriorNumber<LoadBeliefs>{"lowest_share_of_breaker", &LoadBeliefs::lowest_share, half_share},
};

struct NamedKind {
    std::string_view name;
    KindBelief LoadBeliefs::*at;
};
inline constexpr std::array kinds_of_load{
    NamedKind{"unknown", &LoadBeliefs::unknown},       NamedKind{"resistive", &LoadBeliefs::resistive},
    NamedKind{"motor", &LoadBeliefs::motor},           NamedKind{"electronic", &LoadBeliefs::electronic},
    NamedKind{"mixed", &LoadBeliefs::mixed},           NamedKind{"generation", &LoadBeliefs::generation},
    NamedKind{"capacitive", &LoadBeliefs::capacitive},
};
static_assert(sizeof(LoadBeliefs) == kinds_of_load.size() * sizeof(KindBelief) + sizeof(ExportShares) +
                                         load_numbers.size() * sizeof(double));

inline constexpr std::array threshold_numbers{
    PriorNumber<Thresholds>{"as_planned", &Thresholds::as_planned_at, any_share},
    PriorNumber<Thresholds>{"mistake", &Thresholds::mistake_at, half_share},
    PriorNumber<Thresholds>{"low_load_share", &Thresholds::low_load_share, half_share},
    PriorNumber<Thresholds>{"dead_share", &Thresholds::dead_share, half_share},
    PriorNumber<Thresholds>{"stop", &Thresholds::stop_at, half_share},
    PriorNumber<Thresholds>{"listed_sum", &Thresholds::listed_sum, any_share},
};
static_assert(sizeof(Thresholds) == threshold_numbers.size() * sizeof(double));

}  // namespace phasewright::diagnosis
