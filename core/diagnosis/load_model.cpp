#include "core/diagnosis/load_model.hpp"

#include <algorithm>
#include <cmath>
#include <complex>

#include "core/diagnosis/gaussians.hpp"
#include "core/quantity/angle.hpp"

namespace phasewright::diagnosis {

namespace {
using Complex = std::complex<double>;
using quantity::degrees_per_radian;

Complex direction(Complex phasor) { return phasor / std::abs(phasor); }

// How a path's current, given for a load of angle zero, stands to the voltage of its own conductor.
void shift_by(LoadShape& shape, std::size_t path, Complex current, Complex own_voltage) {
    shape.angle_shift_deg[path] = -std::arg(current / direction(own_voltage)) * degrees_per_radian;
    shape.log_size_shift[path] = std::log(std::max(std::abs(current), 1e-3));
}

// One load between two conductors: the same current in both, to within what CTs and meters differ.
void one_current(LoadShape& shape) {
    shape.spread_factor = 0.08;
    shape.size_factor = 0.05;
}

// Two phases of a wye: a share of the load stands between the phases, the rest from each phase to the neutral.
std::vector<LoadShape> two_phase_shapes(plan::SourcePhasors const& u) {
    constexpr std::array<std::array<double, 2>, 5> shares{{{0.0, 0.5}, {0.25, 0.15}, {0.5, 0.12}, {0.75, 0.08}, {1.0, 0.15}}};
    std::vector<LoadShape> shapes;
    Complex const across = direction(u[0] - u[1]);
    for (auto const& [share, weight] : shares) {
        LoadShape shape{.weight = weight};
        shift_by(shape, 0, (1.0 - share) * direction(u[0]) + share * across, u[0]);
        shift_by(shape, 1, (1.0 - share) * direction(u[1]) - share * across, u[1]);
        if (share == 1.0) one_current(shape);
        shapes.push_back(shape);
    }
    return shapes;
}

// Two legs: loads from each to the neutral, or one load between the legs.
std::vector<LoadShape> split_phase_shapes() {
    LoadShape between{.weight = 0.2};
    one_current(between);
    return {LoadShape{.weight = 0.8}, between};
}

// High-leg delta: a three-phase part, whose currents lag the voltages against the triangle's centre, and lighting on
// the two legs to neutral. The legs are sized against the three-phase part, each from nothing to several times. Lighting
// draws whatever the three-phase part does: where that exports, the legs' part stands against it. Where the kinds of both
// are told, the legs lag by their own angle: heaters beside motors.
std::vector<LoadShape> high_leg_shapes(plan::ServiceModel const& model, plan::SourcePhasors const& u, double legs_behind_deg) {
    constexpr std::array<std::array<double, 2>, 4> legs{{{0.0, 0.28}, {0.4, 0.25}, {1.1, 0.25}, {3.5, 0.22}}};
    constexpr double drawing_deg = 10.0;
    constexpr double exporting_deg = 190.0;
    auto const high = static_cast<std::size_t>(model.high_leg);
    auto const one = (high + 2) % 3;
    auto const other = (high + 1) % 3;
    Complex const centre = (u[0] + u[1] + u[2]) / 3.0;
    std::vector<LoadShape> shapes;
    double total = 0.0;
    for (auto const& [leg_one, weight_one] : legs)
        for (auto const& [leg_other, weight_other] : legs) {
            // Legs are loaded alike more often than not.
            double const alike = leg_one == leg_other ? 2.5 : 1.0;
            bool const none = leg_one == 0.0 && leg_other == 0.0;
            total += weight_one * weight_other * alike;
            for (double const sense : {1.0, -1.0}) {
                LoadShape shape{.weight = weight_one * weight_other * alike, .spread_factor = 1.3};
                Complex const behind = sense * std::polar(1.0, -legs_behind_deg / degrees_per_radian);
                shift_by(shape, high, direction(u[high] - centre), u[high]);
                shift_by(shape, one, direction(u[one] - centre) + behind * leg_one * direction(u[one]), u[one]);
                shift_by(shape, other, direction(u[other] - centre) + behind * leg_other * direction(u[other]), u[other]);
                if (!none) shape.about_deg = sense > 0.0 ? drawing_deg : exporting_deg;
                shapes.push_back(shape);
                if (none) break;  // without lighting both are one
            }
        }
    for (auto& shape : shapes) shape.weight /= total;
    return shapes;
}

}  // namespace

bool goes_with(LoadShape const& shape, double site_angle_deg) {
    return !shape.about_deg || std::abs(quantity::wrapped_deg(site_angle_deg - *shape.about_deg)) <= 90.0;
}

std::vector<LoadShape> load_shapes(plan::ServiceModel const& model, plan::SourcePhasors const& u, double legs_behind_deg) {
    if (model.service == plan::Service::two_phases_of_wye) return two_phase_shapes(u);
    if (model.service == plan::Service::split_phase_three_wire) return split_phase_shapes();
    if (model.service == plan::Service::high_leg_delta) return high_leg_shapes(model, u, legs_behind_deg);
    return {LoadShape{}};
}

}  // namespace phasewright::diagnosis
