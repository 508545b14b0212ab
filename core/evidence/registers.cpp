#include "core/evidence/registers.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <utility>

#include "core/chain/uncertainty.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::evidence {

namespace {
using quantity::Fault;
constexpr double seconds_an_hour = 3600.0;

// Watts at a moment, on the straight line between the readings around it.
double power_at(std::vector<PowerReading> const& powers, double seconds) {
    auto const next = std::ranges::lower_bound(powers, seconds, {}, &PowerReading::seconds);
    if (next == powers.begin()) return next->watts;
    if (next == powers.end()) return powers.back().watts;
    auto const last = std::prev(next);
    double const share = (seconds - last->seconds) / (next->seconds - last->seconds);
    return last->watts + share * (next->watts - last->watts);
}

double integral_wh(std::vector<PowerReading> const& powers, double from, double until) {
    double sum = 0.0;
    PowerReading last{from, power_at(powers, from)};
    for (auto const& one : powers) {
        if (one.seconds <= from || one.seconds >= until) continue;
        sum += 0.5 * (last.watts + one.watts) * (one.seconds - last.seconds);
        last = one;
    }
    sum += 0.5 * (last.watts + power_at(powers, until)) * (until - last.seconds);
    return sum / seconds_an_hour;
}

std::optional<Fault> series_fault(AdvanceTest const& test) {
    if (!(test.after.seconds > test.before.seconds))
        return Fault{"the second register reading is not later than the first", "after",
                     quantity::shortest(test.after.seconds),
                     "later than " + quantity::shortest(test.before.seconds), ""};
    if (test.powers.size() < 3)
        return Fault{"too few readings of power", "powers", std::to_string(test.powers.size()),
                     "three or more", "read the power all the time between the two register readings"};
    for (std::size_t k = 1; k < test.powers.size(); ++k)
        if (!(test.powers[k].seconds > test.powers[k - 1].seconds))
            return Fault{"the readings of power are not in the order of time", "powers",
                         quantity::shortest(test.powers[k].seconds), "rising times, none twice", ""};
    return std::nullopt;
}

// Where no power was read for too long; empty where the series covers the time.
std::optional<double> gap_in(AdvanceTest const& test) {
    double last = test.before.seconds;
    double longest = 0.0;
    for (auto const& one : test.powers) {
        if (one.seconds > test.before.seconds && one.seconds < test.after.seconds) {
            longest = std::max(longest, one.seconds - last);
            last = one.seconds;
        }
    }
    longest = std::max(longest, test.after.seconds - last);
    return longest > test.longest_gap_s ? std::optional{longest} : std::nullopt;
}

std::string hint_of(double advance_wh, double integrated_wh) {
    constexpr std::array<std::pair<double, char const*>, 4> factors{
        {{1000.0, "a thousand times as much: Wh taken for kWh"},
         {0.001, "a thousandth: kWh taken for Wh"},
         {-1.0, "the other way: import and export exchanged, or read from the wrong register"},
         {0.0, "nothing at all: another register, or a meter that does not count"}}};
    double const share = advance_wh / integrated_wh;
    for (auto const& [factor, words] : factors)
        if (std::abs(share - factor) <= std::max(0.05 * std::abs(factor), 1e-9))
            return std::string{"the register advanced by "} + words;
    return {};
}
}  // namespace

std::expected<AdvanceResult, Fault> advanced(AdvanceTest const& test, AcceptanceLimit const& limit) {
    if (auto fault = series_fault(test)) return std::unexpected(*fault);
    AdvanceResult result;
    result.integrated_wh = integral_wh(test.powers, test.before.seconds, test.after.seconds);
    result.advance_wh = test.after.wh - test.before.wh;
    if (test.modulus_wh && *test.modulus_wh > 0.0) {
        result.wraps = std::max(
            0, static_cast<int>(std::lround((result.integrated_wh - result.advance_wh) / *test.modulus_wh)));
        result.advance_wh += result.wraps * *test.modulus_wh;
    }
    if (result.integrated_wh == 0.0)
        return std::unexpected(
            Fault{"no energy flowed", "powers", "0", "a load", "switch a load on and try again"});
    double const size = std::abs(result.integrated_wh);
    result.error_percent = 100.0 * (result.advance_wh - result.integrated_wh) / result.integrated_wh;
    std::vector<PowerReading> half;
    for (std::size_t k = 0; k < test.powers.size(); k += 2) half.push_back(test.powers[k]);
    double const missed = integral_wh(half, test.before.seconds, test.after.seconds) - result.integrated_wh;
    double const at_ends = std::max(std::abs(power_at(test.powers, test.before.seconds)),
                                    std::abs(power_at(test.powers, test.after.seconds)));
    double const moment =
        std::numbers::sqrt2 * chain::u_of_rectangular(test.clock_s * at_ends / seconds_an_hour);
    auto uncertainty =
        uncertainty_of({{"last place of the register",
                         100.0 * chain::u_of_triangular(test.last_place_wh) / size, std::nullopt},
                        {"the powers", test.power_u_percent, std::nullopt},
                        {"between the readings of power", 100.0 * std::abs(missed) / size, std::nullopt},
                        {"the moments of the register readings", 100.0 * moment / size, std::nullopt}});
    result.judgement = judged(result.error_percent, uncertainty, limit);
    double const mean_w = size * seconds_an_hour / (test.after.seconds - test.before.seconds);
    double const tenth = limit.high.value_or(1.0) / 10.0;
    result.seconds_needed = 100.0 * test.last_place_wh / tenth * seconds_an_hour / mean_w;
    result.hint = hint_of(result.advance_wh, result.integrated_wh);
    if (auto const gap = gap_in(test))
        result.judgement = taken_back(result.judgement, "no power was read for " + quantity::fixed(*gap, 0) +
                                                            " s: what flowed then is not known");
    if (result.advance_wh < 0.0 && result.integrated_wh > 0.0 && !test.modulus_wh)
        result.judgement =
            taken_back(result.judgement, "the register went back and nothing says where it begins again");
    return result;
}

std::expected<PulseResult, Fault> pulse_weighed(PulseTest const& test, AcceptanceLimit const& limit) {
    bool const all = test.pulses > 0.0 && test.advance_wh > 0.0 && test.declared_wh > 0.0;
    if (!all)
        return std::unexpected(Fault{"a pulse check needs pulses, an advance and a declared weight", "pulses",
                                     quantity::shortest(test.pulses), "all above 0", "wait for more energy"});
    PulseResult result{.wh_per_pulse = test.advance_wh / test.pulses};
    result.error_percent = 100.0 * (result.wh_per_pulse - test.declared_wh) / test.declared_wh;
    double const scale = 100.0 * result.wh_per_pulse / test.declared_wh;
    auto uncertainty = uncertainty_of(
        {{"one pulse more or less", scale * chain::u_of_triangular(1.0) / test.pulses, std::nullopt},
         {"last place of the register", scale * chain::u_of_triangular(test.last_place_wh) / test.advance_wh,
          std::nullopt}});
    result.judgement = judged(result.error_percent, uncertainty, limit);
    return result;
}

}  // namespace phasewright::evidence
