#include "core/diagnosis/neutral_current.hpp"

#include <algorithm>
#include <cmath>
#include <complex>

#include "core/diagnosis/gaussians.hpp"
#include "core/quantity/angle.hpp"

namespace phasewright::diagnosis {

namespace {
using Complex = std::complex<double>;
using quantity::degrees_per_radian;

// Common practice, no source: most meters without a fourth CT show a sum.
constexpr double from_a_fourth_ct = 0.5;
constexpr double summed_by_the_meter = 0.45;
constexpr double neither = 1.0 - from_a_fourth_ct - summed_by_the_meter;
// Classes of the CTs, harmonics of the third order that no phasor sum holds, registers read apart: of the mean line current.
constexpr double relative_width = 0.05;

double width_at(double mean_a) { return relative_width * mean_a + 1e-3; }
}  // namespace

double density_of_neutral(double read_a, CurrentsReadBack const& currents) {
    double shown = 0.0;
    for (std::size_t k = 0; k < currents.inputs; ++k) shown += currents.shown_a[k];
    double const anything = 1.0 / (2.0 * shown + 1.0);
    double const mean = shown / static_cast<double>(std::max<std::size_t>(currents.inputs, 1));
    Complex in_the_lines = 0.0;
    Complex at_the_inputs = 0.0;
    bool all = true;
    for (std::size_t path = 0; path < currents.paths; ++path) {
        if (!currents.log_amps[path] || !currents.lag_deg[path]) {
            all = false;
            continue;
        }
        in_the_lines += std::polar(std::exp(*currents.log_amps[path]),
                                   (currents.path_angle_deg[path] - *currents.lag_deg[path]) / degrees_per_radian);
    }
    bool every_input = true;
    for (std::size_t k = 0; k < currents.inputs; ++k) {
        bool const known = currents.path_of_input[k] >= 0 && currents.lag_deg[static_cast<std::size_t>(currents.path_of_input[k])];
        every_input = every_input && (known || currents.shown_a[k] == 0.0);
        if (!known) continue;
        auto const path = static_cast<std::size_t>(currents.path_of_input[k]);
        double const angle = currents.path_angle_deg[path] - *currents.lag_deg[path] + (currents.sign_of_input[k] < 0 ? 180.0 : 0.0);
        at_the_inputs += std::polar(currents.shown_a[k], angle / degrees_per_radian);
    }
    double const width = width_at(mean);
    double const measured = all ? normal_density(read_a - std::abs(in_the_lines), width) : anything;
    double const summed = every_input ? normal_density(read_a - std::abs(at_the_inputs), width) : anything;
    return from_a_fourth_ct * measured + summed_by_the_meter * summed + neither * anything;
}

}  // namespace phasewright::diagnosis
