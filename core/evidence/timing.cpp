#include "core/evidence/timing.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/chain/uncertainty.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::evidence {

namespace {
using quantity::Fault;
constexpr double seconds_an_hour = 3600.0;

std::optional<Fault> not_above_zero(std::string name, double value) {
    if (std::isfinite(value) && value > 0.0) return std::nullopt;
    return Fault{"a number of the timing test is missing", std::move(name), quantity::shortest(value),
                 "above 0", ""};
}

std::vector<Share> parts_of(TimingTest const& test) {
    std::vector<Share> parts;
    double const percent_a_second = 100.0 / test.seconds;
    if (test.timing == Timing::fixed_window)
        parts.push_back(
            {"one pulse more or less", 100.0 / test.pulses * chain::u_of_triangular(1.0), std::nullopt});
    if (test.timing == Timing::stopwatch)
        parts.push_back({"reaction at begin and end",
                         percent_a_second * std::numbers::sqrt2 * chain::u_of_rectangular(test.reaction_s),
                         std::nullopt});
    parts.push_back({"last place of the clock",
                     percent_a_second * chain::u_of_rectangular(0.5 * test.clock_last_place_s),
                     std::nullopt});
    parts.push_back({"rate of the clock", chain::u_of_rectangular(1e-4 * test.clock_ppm), std::nullopt});
    return parts;
}

// The bound of what the way of timing costs, a tenth of the class: in pulses or in seconds.
void say_needed(TimingTest const& test, TimingResult& result) {
    double const period = test.seconds / test.pulses;
    double const seconds_off =
        test.timing == Timing::stopwatch ? 2.0 * test.reaction_s : test.clock_last_place_s;
    result.pulses_needed =
        test.timing == Timing::fixed_window
            ? 1000.0 / test.class_index
            : std::max(1.0, std::ceil(1000.0 * seconds_off / test.class_index / period - 1e-9));
    result.seconds_needed = result.pulses_needed * period;
}
}  // namespace

double kh_of_constant(double pulses_per_kwh) { return 1000.0 / pulses_per_kwh; }

double power_by_pulses(double kh_wh, double factor, double pulses, double seconds) {
    return seconds_an_hour * kh_wh * factor * pulses / seconds;
}

double seconds_per_pulse(double kh_wh, double factor, double watts) {
    return seconds_an_hour * kh_wh * factor / watts;
}

std::expected<TimingResult, Fault> timed(TimingTest const& test, AcceptanceLimit const& limit) {
    for (auto const& [name, value] :
         {std::pair{"kh_wh", test.kh_wh}, std::pair{"factor", test.factor}, std::pair{"pulses", test.pulses},
          std::pair{"seconds", test.seconds}, std::pair{"class", test.class_index}})
        if (auto fault = not_above_zero(name, value)) return std::unexpected(*fault);
    if (test.true_w && *test.true_w == 0.0)
        return std::unexpected(
            Fault{"the true power is nothing", "true_w", "0", "the power of the load", ""});
    TimingResult result{.watts = power_by_pulses(test.kh_wh, test.factor, test.pulses, test.seconds)};
    auto parts = parts_of(test);
    result.watts_uncertainty = uncertainty_of(parts);
    say_needed(test, result);
    if (!test.true_w) return result;
    result.registration_percent = 100.0 * result.watts / std::abs(*test.true_w);
    result.error_percent = *result.registration_percent - 100.0;
    result.correction_factor = 100.0 / *result.registration_percent;
    parts.push_back({"the true power", test.true_u_percent, std::nullopt});
    result.judgement = judged(*result.error_percent, uncertainty_of(std::move(parts)), limit);
    if (test.true_u_percent <= 0.0)
        result.judgement = taken_back(
            *result.judgement, "nothing says how sure the true power is, so nothing is proved against it");
    if (test.instrument)
        if (auto const doubt = calibration_doubt(*test.instrument, test.time))
            result.judgement = taken_back(*result.judgement, *doubt);
    return result;
}

}  // namespace phasewright::evidence
