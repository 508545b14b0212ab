// The words of docs/reference/profile.md: names of measurements, units and signs.
#pragma once
#include <span>
#include <string_view>
#include <vector>

#include "bus/profile/profile.hpp"

namespace phasewright::profile {

struct UnitWord {
    std::string_view word;
    double factor = 1.0;  // to SI
};

struct MeasureWords {
    Measure measure = Measure::v;
    std::string_view name;
    bool is_list = true;
    std::vector<UnitWord> units;                 // the first is the default
    std::string_view usual_sign, reversed_sign;  // empty when the measurement has no choice of sign
};

[[nodiscard]] std::span<MeasureWords const> all_measures();
[[nodiscard]] MeasureWords const& words_for(Measure measure);

}  // namespace phasewright::profile
