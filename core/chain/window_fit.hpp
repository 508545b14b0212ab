// Do the cables of a phase go through the window of a current transformer? Round cables lie in it as coins in
// a ring: the smallest circle round n equal ones is 1, 2, 2.155, 2.414, 2.701, 3, 3 diameters wide for n = 1
// to 7 (geometry, docs/physics/chain.md, equation 10). For others an arrangement is looked for, which proves
// that they fit; that they do not is only proven for up to three cables, or up to seven equal ones. Tape,
// dirt and bends ask for 3 to 5 % more (common practice, no source).
#pragma once
#include <optional>
#include <span>
#include <vector>

#include "core/chain/citation.hpp"
#include "core/plan/metering_point.hpp"

namespace phasewright::chain {

inline constexpr double usual_allowance = 0.05;

struct Bundle {
    double diameter_mm = 0.0;
    bool smallest = true;  // no smaller circle holds them; false: none was found
};
[[nodiscard]] Bundle bundle_of(std::span<double const> diameters_mm);

struct WindowFit {
    double bundle_mm = 0.0;  // as they are, without allowance
    double room = 0.0;       // by how much all cables could grow and still go through: 0.12 for 12 %
    bool fits = false;       // with the allowance that was asked for
    bool proven = true;      // false: they may fit although no way was found
    double allowance = usual_allowance;
};
[[nodiscard]] WindowFit window_fit(plan::Window const& window, std::span<double const> diameters_mm,
                                   double allowance = usual_allowance);

// Outside diameters of building wire, NEC Chapter 9, Table 5.
enum class Insulation { thhn, xhhw };  // THHN and THWN; XHHW and XHH
struct BuildingWire {
    plan::ConductorSize size;
    double thhn_inch = 0.0;
    double xhhw_inch = 0.0;
};
[[nodiscard]] std::span<BuildingWire const> building_wires();
[[nodiscard]] Citation building_wire_source();
[[nodiscard]] std::optional<double> building_wire_mm(plan::ConductorSize const& size, Insulation insulation);

// What goes through one current transformer of the point. Empty where nothing tells the cable's diameter.
struct PhaseCables {
    std::vector<double> diameters_mm;
    bool from_table = false;  // the thicker of the table's two; the plan gave a size and no diameter
};
[[nodiscard]] std::optional<PhaseCables> phase_cables(plan::MeteringPoint const& point);

}  // namespace phasewright::chain
