#include "bus/twin/dice.hpp"

#include <array>
#include <cmath>
#include <numbers>

namespace phasewright::twin {

std::uint64_t Dice::next() {
    state_ += 0x9E3779B97F4A7C15ULL;
    std::uint64_t z = state_;
    z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27U)) * 0x94D049BB133111EBULL;
    return z ^ (z >> 31U);
}

double Dice::uniform() { return static_cast<double>(next() >> 11U) * 0x1.0p-53; }

double Dice::normal() {
    double const radius = std::sqrt(-2.0 * std::log(1.0 - uniform()));
    return radius * std::cos(2.0 * std::numbers::pi * uniform());
}

std::uint64_t seed_for(std::uint64_t seed, std::string_view name, std::uint64_t number) {
    std::uint64_t mixed = Dice{seed}.next();
    for (char const letter : name) mixed = Dice{mixed ^ static_cast<unsigned char>(letter)}.next();
    return Dice{mixed ^ number}.next();
}

namespace {
// A smooth wave of unit variance: four sinusoids from half a minute to an hour, each with its own chance of
// period and phase.
double smooth(Dice& dice, double time_s) {
    constexpr std::array periods_s{31.0, 130.0, 600.0, 2400.0};
    double sum = 0.0;
    for (double const period_s : periods_s) {
        double const own_period_s = period_s * (1.0 + 0.5 * dice.uniform());
        sum += std::sin(2.0 * std::numbers::pi * (time_s / own_period_s + dice.uniform()));
    }
    return sum * std::sqrt(2.0 / static_cast<double>(periods_s.size()));
}
}  // namespace

Stray stray_at(Wander const& wander, std::uint64_t seed, double time_s) {
    Dice dice{seed};
    double const amps = smooth(dice, time_s);
    double const degrees = smooth(dice, time_s);
    return {.factor = 1.0 + 0.01 * wander.amps_percent * amps, .degrees = wander.degrees * degrees};
}

}  // namespace phasewright::twin
