// Reproducible chance: the same seed, name and moment give the same numbers on every machine. Loads stray
// slowly and smoothly about what the file says they draw; samples carry white noise.
#pragma once
#include <cstdint>
#include <string_view>

#include "bus/twin/wired.hpp"

namespace phasewright::twin {

// A stream of numbers that depends on its seed only (splitmix64: Steele, Lea, Flood 2014, fig. 16).
class Dice {
public:
    explicit Dice(std::uint64_t seed) : state_(seed) {}
    [[nodiscard]] std::uint64_t next();
    [[nodiscard]] double uniform();  // [0, 1)
    [[nodiscard]] double normal();   // mean 0, standard deviation 1 (Box and Muller 1958)

private:
    std::uint64_t state_;
};

[[nodiscard]] std::uint64_t seed_for(std::uint64_t seed, std::string_view name, std::uint64_t number);

// How far a load is from what the file says at this moment.
struct Stray {
    double factor = 1.0;   // of its amps
    double degrees = 0.0;  // more lag
};
[[nodiscard]] Stray stray_at(Wander const& wander, std::uint64_t seed, double time_s);

}  // namespace phasewright::twin
