// Dice with a fixed seed that fall alike on every compiler: the standard library leaves the shape of its
// normal distribution to whoever wrote it, so it is made here from the raw numbers.
#pragma once
#include <cmath>
#include <cstdint>
#include <numbers>
#include <random>

namespace phasewright::benchmarks {

class Dice {
   public:
    explicit Dice(std::uint64_t seed) : raw_(seed) {}
    // Uniform in [0, 1).
    double share() { return static_cast<double>(raw_() >> 11) * 0x1.0p-53; }
    double between(double low, double high) { return low + (high - low) * share(); }
    double log_between(double low, double high) { return std::exp(between(std::log(low), std::log(high))); }
    bool happens(double probability) { return share() < probability; }
    int below(int count) { return static_cast<int>(share() * count); }
    // Box and Muller, Annals of Mathematical Statistics 29 (1958) 610.
    double normal(double mean, double sigma) {
        double const size = std::sqrt(-2.0 * std::log(1.0 - share()));
        return mean + sigma * size * std::cos(2.0 * std::numbers::pi * share());
    }

   private:
    std::mt19937_64 raw_;
};

}  // namespace phasewright::benchmarks
