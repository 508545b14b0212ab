// Identities without noise: every landing that one or two mistakes make, read exactly, once. Whatever the odds say, the
// planted wiring must stay among the classes that are named, and the power that its class corrects to must be the true
// one wherever that wiring lets it be recovered at all.
#pragma once
#include <string>
#include <vector>

#include "benchmarks/world.hpp"

namespace phasewright::benchmarks {

struct Identities {
    int landings = 0;       // different ones
    int named = 0;          // of these, the planted wiring is in a class that is listed
    int first = 0;          // the same, in the first class
    int recoverable = 0;    // of the named: its class states a corrected power
    double largest_error = 0.0;  // of that power, relative to the true apparent power
    std::vector<std::string> unnamed;  // the mistakes whose landing no class lists
};
[[nodiscard]] Identities identities_of(Meter const& meter);

}  // namespace phasewright::benchmarks
