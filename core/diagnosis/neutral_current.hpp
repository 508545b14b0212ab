// The neutral carries the sum of the line currents, turned round: I_n = |J_a + J_b + J_c|. A fourth CT that reads it tests
// every ratio and direction at once. Many meters have none and show the sum of what their own inputs saw, wrong wiring and
// all; which of the two it is, is seldom told, so both are weighed (docs/physics/likelihood.md, 6).
#pragma once
#include <array>
#include <optional>

#include "core/diagnosis/load_model.hpp"

namespace phasewright::diagnosis {

// What a hypothesis makes of one reading, by path of ServiceModel::live and by current input.
struct CurrentsReadBack {
    PathLags lag_deg;
    PathSizes log_amps;
    std::array<double, 3> path_angle_deg{};
    std::size_t paths = 0;
    std::array<std::int16_t, 3> path_of_input{};
    std::array<std::int8_t, 3> sign_of_input{};
    std::array<double, 3> shown_a{};  // by input, as displayed
    std::size_t inputs = 0;
};

// Density of the read neutral current, per ampere.
[[nodiscard]] double density_of_neutral(double read_a, CurrentsReadBack const& currents);

}  // namespace phasewright::diagnosis
