#include "core/chain/conductor.hpp"

#include <array>
#include <cmath>

namespace phasewright::chain {

namespace {
using plan::Footing;

// Three reprints of IEC 60228:2004 agree on these figures. 50 mm2 of class 5 really lies below class 2.
constexpr std::array table{
    NominalResistance{0.5, 36.0, 39.0, 40.1, std::nullopt},
    NominalResistance{0.75, 24.5, 26.0, 26.7, std::nullopt},
    NominalResistance{1.0, 18.1, 19.5, 20.0, std::nullopt}, NominalResistance{1.5, 12.1, 13.3, 13.7, 12.2},
    NominalResistance{2.5, 7.41, 7.98, 8.21, 7.56}, NominalResistance{4.0, 4.61, 4.95, 5.09, 4.70},
    NominalResistance{6.0, 3.08, 3.30, 3.39, 3.11}, NominalResistance{10.0, 1.83, 1.91, 1.95, 1.84},
    NominalResistance{16.0, 1.15, 1.21, 1.24, 1.16},
    NominalResistance{25.0, 0.727, 0.780, 0.795, std::nullopt},
    // NOLINTNEXTLINE(modernize-use-std-numbers): 0.565 is a resistance, not a share of pi
    NominalResistance{35.0, 0.524, 0.554, 0.565, std::nullopt},
    NominalResistance{50.0, 0.387, 0.386, 0.393, std::nullopt}};

using plan::SizeUnit;
constexpr plan::ConductorSize awg(double gauge) { return {SizeUnit::awg, gauge}; }
constexpr plan::ConductorSize kcmil(double number) { return {SizeUnit::kcmil, number}; }
constexpr std::optional<double> none;

// NEC Chapter 9, Table 8. 18 to 8 AWG stranded and 600 kcmil up are from memory, the rest was read in a
// reprint.
constexpr std::array building_wire{BuildingWireResistance{awg(18), 7.77, 7.95, Footing::memory},
                                   BuildingWireResistance{awg(16), 4.89, 4.99, Footing::memory},
                                   BuildingWireResistance{awg(14), 3.07, 3.14, Footing::memory},
                                   BuildingWireResistance{awg(12), 1.93, 1.98, Footing::memory},
                                   BuildingWireResistance{awg(10), 1.21, 1.24, Footing::memory},
                                   BuildingWireResistance{awg(8), 0.764, 0.778, Footing::memory},
                                   BuildingWireResistance{awg(6), none, 0.491, Footing::seen},
                                   BuildingWireResistance{awg(4), none, 0.308, Footing::seen},
                                   BuildingWireResistance{awg(3), none, 0.245, Footing::seen},
                                   BuildingWireResistance{awg(2), none, 0.194, Footing::seen},
                                   BuildingWireResistance{awg(1), none, 0.154, Footing::seen},
                                   BuildingWireResistance{awg(0), none, 0.122, Footing::seen},
                                   BuildingWireResistance{awg(-1), none, 0.0967, Footing::seen},
                                   BuildingWireResistance{awg(-2), none, 0.0766, Footing::seen},
                                   BuildingWireResistance{awg(-3), none, 0.0608, Footing::seen},
                                   BuildingWireResistance{kcmil(250), none, 0.0515, Footing::seen},
                                   BuildingWireResistance{kcmil(300), none, 0.0429, Footing::seen},
                                   BuildingWireResistance{kcmil(350), none, 0.0367, Footing::seen},
                                   BuildingWireResistance{kcmil(400), none, 0.0321, Footing::seen},
                                   BuildingWireResistance{kcmil(500), none, 0.0258, Footing::seen},
                                   BuildingWireResistance{kcmil(600), none, 0.0214, Footing::memory},
                                   BuildingWireResistance{kcmil(700), none, 0.0184, Footing::memory},
                                   BuildingWireResistance{kcmil(750), none, 0.0171, Footing::memory}};

double of_row(NominalResistance const& row, Wire const& wire) {
    bool const tinned = wire.coating == Coating::tinned;
    if (wire.strands == plan::Strands::flexible) return tinned ? row.flexible_tinned : row.flexible;
    return tinned && row.coated ? *row.coated : row.plain;
}
}  // namespace

std::span<NominalResistance const> nominal_resistances() { return table; }
std::span<BuildingWireResistance const> building_wire_resistances() { return building_wire; }

double temperature_factor(plan::Metal metal, double temperature_c) {
    double const k = metal == plan::Metal::copper ? 234.5 : 228.0;
    return (k + temperature_c) / (k + reference_c);
}

std::optional<Resistance> nominal_resistance(Wire const& wire) {
    if (wire.size.unit != SizeUnit::mm2 || wire.metal != plan::Metal::copper) return std::nullopt;
    for (auto const& row : table) {
        if (std::abs(row.mm2 - wire.size.number) > 1e-9) continue;
        auto const* const clause = wire.strands == plan::Strands::flexible ? "Table 3" : "Tables 1 and 2";
        return Resistance{of_row(row, wire) * temperature_factor(wire.metal, wire.temperature_c),
                          {"IEC 60228", "2004", clause, Footing::seen}};
    }
    return std::nullopt;
}

Resistance geometric_resistance(Wire const& wire) {
    bool const copper = wire.metal == plan::Metal::copper;
    double const rho = copper ? copper_ohm_mm2_per_m : aluminium_ohm_mm2_per_m;
    double const strands = wire.strands == plan::Strands::solid ? 1.0 : stranding_factor;
    double const ohm_per_km = 1000.0 * rho / plan::area_mm2(wire.size) * strands;
    return {ohm_per_km * temperature_factor(wire.metal, wire.temperature_c),
            {wire.size.unit == SizeUnit::mm2 ? "rho l / A" : "ASTM B258", "", "rho l / A", Footing::derived}};
}

Resistance resistance_of(Wire const& wire) {
    auto const known = nominal_resistance(wire);
    return known ? *known : geometric_resistance(wire);
}

}  // namespace phasewright::chain
