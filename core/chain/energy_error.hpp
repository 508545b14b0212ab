// What ratio and phase errors of the chain do to active energy. The meter sees the load at another angle than
// it is at:
//   S' = S (1 + e_ct)(1 + e_vt) e^(j(d_vt - d_ct))
//   e  = (1 + e_ct)(1 + e_vt)(1 + e_meter) cos(phi - d_ct + d_vt) / cos(phi) - 1                       exact
//   e ~= e_ct + e_vt + e_meter + (d_ct - d_vt) tan(phi)                                               linear
// with d positive where the secondary leads and phi positive where the current lags: a leading CT makes a
// lagging load look better than it is, so too much is counted. docs/physics/chain.md, equations 11 to 13.
#pragma once
#include "core/quantity/angle.hpp"

namespace phasewright::chain {

struct ChainErrors {
    double ct_percent = 0.0;    // (k I_s - I_p) / I_p
    double ct_phase_min = 0.0;  // minutes, positive: the secondary leads
    double vt_percent = 0.0;
    double vt_phase_min = 0.0;
    double meter_percent = 0.0;
};

[[nodiscard]] double active_error_percent(ChainErrors const& errors, quantity::Degrees lag);  // exact
[[nodiscard]] double active_error_linear_percent(ChainErrors const& errors, quantity::Degrees lag);
[[nodiscard]] double reactive_error_percent(ChainErrors const& errors, quantity::Degrees lag);  // exact
[[nodiscard]] double reactive_error_linear_percent(ChainErrors const& errors, quantity::Degrees lag);

// True over metered, for known errors.
[[nodiscard]] double correction_factor(ChainErrors const& errors, quantity::Degrees lag);

// The angle of a power factor: positive where the current lags.
[[nodiscard]] quantity::Degrees lag_of(double power_factor, bool leading = false);

}  // namespace phasewright::chain
