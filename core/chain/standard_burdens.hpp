// The burdens that IEEE C57.13 names: "0.3 B-0.1" is class 0.3 with 0.1 ohm, 2.5 VA at 5 A, behind it. For
// another rated secondary current the ohms change with (5 / I)^2 and the VA stay.
#pragma once
#include <optional>
#include <span>
#include <string_view>

#include "core/chain/citation.hpp"

namespace phasewright::chain {

struct StandardBurden {
    std::string_view name;  // "B-0.1"
    double ohm = 0.0;       // resistance, at 5 A
    double mh = 0.0;        // inductance
    double z_ohm = 0.0;     // impedance at 60 Hz
    double va = 0.0;
    double power_factor = 1.0;
    plan::Footing footing = plan::Footing::memory;
};
[[nodiscard]] std::span<StandardBurden const> standard_burdens();
[[nodiscard]] StandardBurden const* standard_burden_of(std::string_view name);  // null: not one of them
[[nodiscard]] double burden_ohm(StandardBurden const& burden, double rated_a);  // impedance

}  // namespace phasewright::chain
