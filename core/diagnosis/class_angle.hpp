// By how much a current transformer's class lets its secondary lead or lag: the width behind an angle's noise.
#pragma once
#include <optional>
#include <string_view>

namespace phasewright::diagnosis {

// Limit of the phase displacement in degrees at `share` of the rated primary. IEC 61869-2, Table 201 (the cells from
// memory, docs/physics/likelihood.md); between its currents the limit of the next lower one holds, below the lowest
// the class says nothing and 4 degrees are allowed. Unknown classes count as 0.5.
[[nodiscard]] double class_angle_deg(std::string_view ct_class, double share);

}  // namespace phasewright::diagnosis
