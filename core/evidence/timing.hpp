// The oldest test of a meter: count its pulses (or the turns of its disk) and look at a clock. Kh is the
// energy of one pulse on the meter's own, secondary side; the transformers multiply it.
//   P = 3600 Kh TF n / t       TF = ratio of the CTs times ratio of the VTs     (docs/physics/evidence.md,
//   equation 2) Kh = 1000 / k              k in pulses per kWh, same side registration = 100 P / P_true %,
//   error = registration - 100
// A window of the clock that cuts pulses at both ends counts one too many or one too few: at most +-1 in n,
// triangular (the window's begin and end fall anywhere in a pulse period: derived). To keep that below a
// tenth of the class index c in %: n >= 1000 / c. Timed from one pulse to another nothing is cut, and what is
// left is the clock: a finger on a stopwatch is late by its reaction time, at the begin as at the end; what
// both have in common cancels.
#pragma once
#include <expected>
#include <optional>
#include <string>

#include "core/evidence/instrument.hpp"
#include "core/evidence/judgement.hpp"

namespace phasewright::evidence {

enum class Timing {
    fixed_window,  // pulses counted within a time that knows nothing of them
    whole_pulses,  // the time from one pulse to the n-th after it, by a detector
    stopwatch,     // the same by eye and finger
};
[[nodiscard]] constexpr auto word_table(Timing) {
    return plan::Words<Timing, 3>{{{Timing::fixed_window, "fixed-window"},
                                   {Timing::whole_pulses, "whole-pulses"},
                                   {Timing::stopwatch, "stopwatch"}}};
}

// How far a finger may be off at each end, half width: common practice, no source.
inline constexpr double usual_reaction_s = 0.2;

[[nodiscard]] double kh_of_constant(double pulses_per_kwh);                                        // Wh
[[nodiscard]] double power_by_pulses(double kh_wh, double factor, double pulses, double seconds);  // W
[[nodiscard]] double seconds_per_pulse(double kh_wh, double factor, double watts);

struct TimingTest {
    std::string time;  // of the test
    double kh_wh = 1.0;
    double factor = 1.0;  // TF; 1 where Kh is on the primary side already
    double pulses = 0.0;
    double seconds = 0.0;
    Timing timing = Timing::fixed_window;
    double reaction_s = usual_reaction_s;  // stopwatch
    double clock_last_place_s = 0.0;
    double clock_ppm = 100.0;  // plus or minus; common practice, no source
    std::optional<double> true_w;
    double true_u_percent = 0.0;           // standard uncertainty of it, with the wander of the load
    double class_index = 1.0;              // c, %
    std::optional<Instrument> instrument;  // that true_w was read with
};

struct TimingResult {
    double watts = 0.0;
    Uncertainty watts_uncertainty;  // %
    std::optional<double> registration_percent, error_percent;
    std::optional<double> correction_factor;  // 100 / registration
    double pulses_needed = 0.0;               // for a tenth of the class, this way of timing
    double seconds_needed = 0.0;              // at this load
    std::optional<Judgement> judgement;       // where true_w is known
};
[[nodiscard]] std::expected<TimingResult, quantity::Fault> timed(TimingTest const& test,
                                                                 AcceptanceLimit const& limit);

}  // namespace phasewright::evidence
