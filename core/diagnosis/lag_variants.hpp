// The lag angles that agree with what a snapshot says of an element's power.
#pragma once
#include <vector>

#include "core/diagnosis/observed.hpp"

namespace phasewright::diagnosis {

// What one element says, primary side and project signs as far as they are known.
struct PowerWords {
    std::optional<double> v, i, p, q, pf, lag_from_angles_deg;
};

// All joint readings of the elements' lags; weights sum to one. Signs that share one cause (a var or PF habit of the
// meter) turn together; signs that were never measured turn apart.
[[nodiscard]] std::vector<LagVariant> lag_variants(std::vector<PowerWords> const& elements,
                                                   readings::SignHabit pf_sign, readings::SignHabit var_sign);

}  // namespace phasewright::diagnosis
