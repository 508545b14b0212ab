#include "core/chain/energy_error.hpp"

#include <cmath>
#include <numbers>

namespace phasewright::chain {

namespace {
constexpr double rad_per_minute = std::numbers::pi / 10800.0;

double size_factor(ChainErrors const& errors) {
    return (1.0 + errors.ct_percent / 100.0) * (1.0 + errors.vt_percent / 100.0) *
           (1.0 + errors.meter_percent / 100.0);
}
double turn_rad(ChainErrors const& errors) {
    return (errors.ct_phase_min - errors.vt_phase_min) * rad_per_minute;
}
double sizes_percent(ChainErrors const& errors) {
    return errors.ct_percent + errors.vt_percent + errors.meter_percent;
}
}  // namespace

double active_error_percent(ChainErrors const& errors, quantity::Degrees lag) {
    double const phi = quantity::to_radians(lag).value;
    return 100.0 * (size_factor(errors) * std::cos(phi - turn_rad(errors)) / std::cos(phi) - 1.0);
}

double active_error_linear_percent(ChainErrors const& errors, quantity::Degrees lag) {
    return sizes_percent(errors) + 100.0 * turn_rad(errors) * std::tan(quantity::to_radians(lag).value);
}

double reactive_error_percent(ChainErrors const& errors, quantity::Degrees lag) {
    double const phi = quantity::to_radians(lag).value;
    return 100.0 * (size_factor(errors) * std::sin(phi - turn_rad(errors)) / std::sin(phi) - 1.0);
}

double reactive_error_linear_percent(ChainErrors const& errors, quantity::Degrees lag) {
    return sizes_percent(errors) - 100.0 * turn_rad(errors) / std::tan(quantity::to_radians(lag).value);
}

double correction_factor(ChainErrors const& errors, quantity::Degrees lag) {
    return 1.0 / (1.0 + active_error_percent(errors, lag) / 100.0);
}

quantity::Degrees lag_of(double power_factor, bool leading) {
    double const lag = quantity::to_degrees(quantity::Radians{std::acos(power_factor)}).value;
    return {leading ? -lag : lag};
}

}  // namespace phasewright::chain
