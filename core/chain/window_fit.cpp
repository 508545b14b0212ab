#include "core/chain/window_fit.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <numeric>

#include "core/chain/packing.hpp"

namespace phasewright::chain {

namespace {
constexpr double mm_per_inch = 25.4;
constexpr int halvings = 36;

constexpr plan::ConductorSize awg(double gauge) { return {plan::SizeUnit::awg, gauge}; }
constexpr plan::ConductorSize kcmil(double number) { return {plan::SizeUnit::kcmil, number}; }

constexpr std::array wires{BuildingWire{awg(14), 0.111, 0.133},    BuildingWire{awg(12), 0.130, 0.152},
                           BuildingWire{awg(10), 0.164, 0.176},    BuildingWire{awg(8), 0.216, 0.236},
                           BuildingWire{awg(6), 0.254, 0.274},     BuildingWire{awg(4), 0.324, 0.322},
                           BuildingWire{awg(3), 0.352, 0.350},     BuildingWire{awg(2), 0.384, 0.382},
                           BuildingWire{awg(1), 0.446, 0.442},     BuildingWire{awg(0), 0.486, 0.482},
                           BuildingWire{awg(-1), 0.532, 0.528},    BuildingWire{awg(-2), 0.584, 0.580},
                           BuildingWire{awg(-3), 0.642, 0.638},    BuildingWire{kcmil(250), 0.711, 0.705},
                           BuildingWire{kcmil(300), 0.766, 0.760}, BuildingWire{kcmil(350), 0.817, 0.811},
                           BuildingWire{kcmil(400), 0.864, 0.858}, BuildingWire{kcmil(500), 0.949, 0.943},
                           BuildingWire{kcmil(600), 1.051, 1.053}, BuildingWire{kcmil(700), 1.122, 1.124},
                           BuildingWire{kcmil(750), 1.156, 1.158}};

// The smallest circle round n equal circles, in their diameters. Up to seven: n on the rim, or one in the
// middle.
double equal_circles(std::size_t n) {
    if (n <= 1) return static_cast<double>(n);
    if (n == 7) return 3.0;
    return 1.0 + 1.0 / std::sin(std::numbers::pi / static_cast<double>(n));
}

// Round three that touch one another: the circle theorem of Descartes. Where the smallest lies beside the
// other two without touching the rim, their sum.
double three_circles(std::array<double, 3> diameters) {
    std::ranges::sort(diameters);
    double const two = diameters[1] + diameters[2];
    double const a = 1.0 / diameters[0];
    double const b = 1.0 / diameters[1];
    double const c = 1.0 / diameters[2];
    double const bend = 2.0 * std::sqrt(a * b + b * c + c * a) - (a + b + c);
    // Beside two circles on a diameter of their ring the gap takes d = d1 d2 (d1 + d2) / (d1^2 + d1 d2 +
    // d2^2).
    double const gap = 1.0 / (b + c - 1.0 / two);
    return diameters[0] <= gap ? two : 1.0 / bend;
}

double sum_of(std::span<double const> values) { return std::accumulate(values.begin(), values.end(), 0.0); }

bool all_equal(std::span<double const> values) {
    auto const [least, most] = std::ranges::minmax(values);
    return most - least <= 1e-9 * most;
}

// The largest factor of all diameters at which they still lie in the hole.
double largest_factor(Hole const& hole, std::vector<double> const& diameters) {
    double const across = std::hypot(hole.width, hole.height);
    double low = 0.0;
    double high = across / std::ranges::max(diameters);
    for (int n = 0; n < halvings; ++n) {
        double const factor = (low + high) / 2.0;
        auto grown = diameters;
        for (auto& diameter : grown) diameter *= factor;
        (lies_in(hole, grown) ? low : high) = factor;
    }
    return low;
}

bool is_proven(plan::Window const& window, std::span<double const> diameters) {
    if (diameters.size() <= 1) return true;
    return window.round && (diameters.size() <= 3 || (diameters.size() <= 7 && all_equal(diameters)));
}
}  // namespace

Bundle bundle_of(std::span<double const> diameters_mm) {
    auto const n = diameters_mm.size();
    if (n <= 2) return {sum_of(diameters_mm), true};
    if (n == 3) return {three_circles({diameters_mm[0], diameters_mm[1], diameters_mm[2]}), true};
    if (n <= 7 && all_equal(diameters_mm)) return {diameters_mm.front() * equal_circles(n), true};
    std::vector<double> const all(diameters_mm.begin(), diameters_mm.end());
    double const ring = sum_of(diameters_mm);
    return {ring / largest_factor({ring, ring, true}, all), false};
}

WindowFit window_fit(plan::Window const& window, std::span<double const> diameters_mm, double allowance) {
    WindowFit fit{.bundle_mm = bundle_of(diameters_mm).diameter_mm, .allowance = allowance};
    fit.proven = is_proven(window, diameters_mm);
    if (diameters_mm.empty()) {
        fit.fits = true;
        return fit;
    }
    double factor = std::min(window.width_mm, window.height_mm) / fit.bundle_mm;
    if (!window.round) {
        std::vector<double> const all(diameters_mm.begin(), diameters_mm.end());
        factor = std::max(factor, largest_factor({window.width_mm, window.height_mm, false}, all));
    }
    fit.room = factor - 1.0;
    fit.fits = fit.room >= allowance - 1e-9;
    fit.proven = fit.proven || fit.fits;
    return fit;
}

std::span<BuildingWire const> building_wires() { return wires; }

Citation building_wire_source() { return {"NEC", "2008", "Chapter 9, Table 5", plan::Footing::seen}; }

std::optional<double> building_wire_mm(plan::ConductorSize const& size, Insulation insulation) {
    auto const* const found = std::ranges::find(wires, size, &BuildingWire::size);
    if (found == wires.end()) return std::nullopt;
    return mm_per_inch * (insulation == Insulation::thhn ? found->thhn_inch : found->xhhw_inch);
}

std::optional<PhaseCables> phase_cables(plan::MeteringPoint const& point) {
    if (!point.cable) return std::nullopt;
    PhaseCables cables;
    auto diameter = point.cable->diameter_mm;
    if (!diameter && point.cable->size) {
        auto const thhn = building_wire_mm(*point.cable->size, Insulation::thhn);
        auto const xhhw = building_wire_mm(*point.cable->size, Insulation::xhhw);
        if (thhn && xhhw) diameter = std::max(*thhn, *xhhw);
        cables.from_table = diameter.has_value();
    }
    if (!diameter) return std::nullopt;
    cables.diameters_mm.assign(static_cast<std::size_t>(std::max(1, point.cables_per_phase)), *diameter);
    return cables;
}

}  // namespace phasewright::chain
