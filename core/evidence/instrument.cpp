#include "core/evidence/instrument.hpp"

#include <cmath>

#include "core/chain/class_tables.hpp"
#include "core/quantity/text.hpp"
#include "core/readings/check.hpp"

namespace phasewright::evidence {

namespace {
std::optional<double> day_of(std::string const& text) {
    if (text.size() < 10) return std::nullopt;
    return readings::seconds_of(text.substr(0, 10) + "T00:00:00Z");
}
}  // namespace

std::expected<double, quantity::Fault> limit_at(Accuracy const& accuracy, double reading) {
    double const size = std::abs(reading);
    if (accuracy.range > 0.0 && size > accuracy.range)
        return std::unexpected(quantity::Fault{
            "a reading lies beyond the instrument's range", "", quantity::shortest(reading),
            "at most " + quantity::shortest(accuracy.range), "read it again in a range that holds it"});
    return accuracy.of_reading_percent / 100.0 * size + accuracy.of_range_percent / 100.0 * accuracy.range +
           accuracy.digits * accuracy.last_place;
}

double phase_limit_percent(Accuracy const& accuracy, double power_factor) {
    if (!accuracy.phase_min) return 0.0;
    double const factor = std::abs(power_factor);
    double const tangent = std::sqrt(std::max(0.0, 1.0 - factor * factor)) / factor;
    return chain::crad_per_minute * *accuracy.phase_min * tangent;
}

Calibration calibration_on(Instrument const& instrument, std::string const& on) {
    auto const from = day_of(instrument.calibrated);
    auto const until = day_of(instrument.due);
    auto const day = day_of(on);
    if (!from || !until || !day) return Calibration::not_said;
    if (*day < *from) return Calibration::not_yet;
    return *day > *until ? Calibration::overdue : Calibration::valid;
}

std::optional<std::string> calibration_doubt(Instrument const& instrument, std::string const& on) {
    auto const name = instrument.name.empty() ? std::string{"the instrument"} : instrument.name;
    switch (calibration_on(instrument, on)) {
        case Calibration::valid: return std::nullopt;
        case Calibration::overdue:
            return "the calibration of " + name + " was due on " + instrument.due + ", before this test";
        case Calibration::not_yet:
            return "this test is older than the calibration of " + name + " (" + instrument.calibrated + ")";
        case Calibration::not_said:
            return "the dates of calibration of " + name + ", or of this test, are not known";
    }
    return std::nullopt;
}

}  // namespace phasewright::evidence
