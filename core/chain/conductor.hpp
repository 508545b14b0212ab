// The resistance of a wire per kilometre: what a CT's secondary current must be driven through.
//   IEC 60228   a nominal cross-section is a name for a highest resistance at 20 degrees C; the table is what
//   a
//               buyer may count on, and it is a little more than rho / A
//   geometry    R = rho / A, times 1.02 where the strands wind round each other (ASTM B258 and B8)
//   temperature R(t) = R(20) (k + t) / (k + 20), k = 234.5 for copper, 228 for aluminium
// Equations and sources: docs/physics/chain.md, equations 1 to 3.
#pragma once
#include <optional>
#include <span>

#include "core/chain/citation.hpp"
#include "core/plan/conductor_size.hpp"

namespace phasewright::chain {

inline constexpr double reference_c = 20.0;  // of every resistance table here
inline constexpr double copper_ohm_mm2_per_m =
    0.017241;  // at 20 degrees C: 100 % IACS; IEC 60028, from memory
inline constexpr double aluminium_ohm_mm2_per_m = 0.028264;  // at 20 degrees C; IEC 60287-1-1, from memory
inline constexpr double stranding_factor = 1.02;  // concentric strands are longer than the wire; ASTM B8

// One row of IEC 60228:2004, Tables 1, 2 and 3: highest resistance at 20 degrees C in ohm/km, copper.
struct NominalResistance {
    double mm2 = 0.0;
    double plain = 0.0;     // classes 1 and 2
    double flexible = 0.0;  // class 5
    double flexible_tinned = 0.0;
    std::optional<double> coated;  // class 2, metal-coated
};
[[nodiscard]] std::span<NominalResistance const> nominal_resistances();

// One row of the NEC's table of direct-current resistance at 75 degrees C, ohm per 1000 ft, uncoated copper.
// It is here to be tested against: the geometry must give it.
struct BuildingWireResistance {
    plan::ConductorSize size;
    std::optional<double> solid, stranded;
    plan::Footing footing = plan::Footing::memory;  // of the stranded figure
};
[[nodiscard]] std::span<BuildingWireResistance const> building_wire_resistances();

enum class Coating { plain, tinned };

struct Wire {
    plan::ConductorSize size;
    plan::Metal metal = plan::Metal::copper;
    plan::Strands strands = plan::Strands::stranded;
    Coating coating = Coating::plain;
    double temperature_c = reference_c;
};

struct Resistance {
    double ohm_per_km = 0.0;
    Citation source;
};

[[nodiscard]] double temperature_factor(plan::Metal metal, double temperature_c);

// The table's; empty for what is not in it: aluminium, AWG, a size between.
[[nodiscard]] std::optional<Resistance> nominal_resistance(Wire const& wire);
// rho / A with stranding and temperature, for any size and metal.
[[nodiscard]] Resistance geometric_resistance(Wire const& wire);
// The table where it has the wire, else the geometry.
[[nodiscard]] Resistance resistance_of(Wire const& wire);

}  // namespace phasewright::chain
