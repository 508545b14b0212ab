// Numbers that look random and are the same on every machine: the n-th number of a seed is a hash of both
// (the finaliser of SplitMix64; Steele, Lea, Flood, OOPSLA 2014). Core rolls no dice of its own: the seed is
// handed in.
#pragma once
#include <complex>
#include <cstdint>

namespace phasewright::quantity {

class Dice {
public:
    explicit Dice(std::uint64_t seed) : seed_{seed} {}
    [[nodiscard]] double uniform();                    // in (0, 1)
    [[nodiscard]] double between(double limit);        // rectangular from -limit to +limit
    [[nodiscard]] double normal();                     // mean 0, standard deviation 1
    [[nodiscard]] std::complex<double> normal_pair();  // two independent ones, as real and imaginary part

private:
    std::uint64_t seed_;
    std::uint64_t count_ = 0;
    double spare_ = 0.0;
    bool has_spare_ = false;
};

}  // namespace phasewright::quantity
