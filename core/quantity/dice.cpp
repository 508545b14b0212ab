#include "core/quantity/dice.hpp"

#include <cmath>
#include <numbers>

namespace phasewright::quantity {

double Dice::uniform() {
    std::uint64_t z = seed_ + ++count_ * 0x9E3779B97F4A7C15ULL;
    z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27U)) * 0x94D049BB133111EBULL;
    z ^= z >> 31U;
    return (static_cast<double>(z >> 11U) + 0.5) * 0x1.0p-53;
}

double Dice::between(double limit) { return limit * (2.0 * uniform() - 1.0); }

// Box and Muller 1958: a pair of uniform numbers gives a pair of normal ones.
std::complex<double> Dice::normal_pair() {
    double const radius = std::sqrt(-2.0 * std::log(uniform()));
    double const turn = 2.0 * std::numbers::pi * uniform();
    return {radius * std::cos(turn), radius * std::sin(turn)};
}

double Dice::normal() {
    if (has_spare_) {
        has_spare_ = false;
        return spare_;
    }
    auto const pair = normal_pair();
    spare_ = pair.imag();
    has_spare_ = true;
    return pair.real();
}

}  // namespace phasewright::quantity
