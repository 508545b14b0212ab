// How thick a conductor is, as it was written: 2.5 mm2, 12 AWG, 4/0 AWG, 250 kcmil. It stays as written and is converted
// when somebody asks.
//   AWG n        d = 0.127 mm * 92^((36 - n) / 39), A = pi d^2 / 4; 1/0, 2/0, 3/0, 4/0 are n = 0, -1, -2, -3
//   1 kcmil      0.506707 mm2, a thousand circles of a thousandth of an inch across
//   IEC 60228    gives nominal cross-sections in mm2; a nominal 2.5 mm2 is a resistance class, not a measured area
// Source: ASTM B258 (the formula, read in an encyclopaedia); IEC 60228:2004 Tables 1 and 2 (nominal sizes; those
// above 50 mm2 from memory). docs/reference/plan.md, "Sizes".
#pragma once
#include <optional>
#include <string>
#include <string_view>

#include "core/plan/words.hpp"

namespace phasewright::plan {

enum class SizeUnit { mm2, awg, kcmil };

struct ConductorSize {
    SizeUnit unit = SizeUnit::mm2;
    double number = 0.0;  // mm2 or kcmil; AWG: 12, and 0, -1, -2, -3 for 1/0 to 4/0
    friend bool operator==(ConductorSize const&, ConductorSize const&) = default;
};

inline constexpr int thickest_awg = -3;  // 4/0
inline constexpr int thinnest_awg = 40;

// "2.5 mm2", "2,5mm²", "12 AWG", "#12", "AWG 4/0", "250 kcmil", "250 MCM". A number alone says no unit: refused, unless
// `without_unit` says which one is meant.
[[nodiscard]] std::optional<ConductorSize> conductor_size_of(std::string_view text,
                                                             std::optional<SizeUnit> without_unit = std::nullopt);
[[nodiscard]] std::string text_of(ConductorSize const& size);  // "2.5 mm2", "4/0 AWG"

[[nodiscard]] double area_mm2(ConductorSize const& size);
[[nodiscard]] double solid_diameter_mm(ConductorSize const& size);  // of a solid round wire of this area

// The thinnest usual size that is not below an area: of the IEC 60228 series, or AWG up to 4/0 and then kcmil.
// Empty where the series ends.
[[nodiscard]] std::optional<ConductorSize> metric_size_from(double area_mm2);
[[nodiscard]] std::optional<ConductorSize> awg_size_from(double area_mm2);

enum class Metal { copper, aluminium };
// Copper for conductors solid, stranded and flexible: classes 1, 2 and 5 of IEC 60228.
enum class Strands { solid, stranded, flexible };
[[nodiscard]] constexpr auto word_table(Metal) {
    return Words<Metal, 2>{{{Metal::copper, "copper"}, {Metal::aluminium, "aluminium"}}};
}
[[nodiscard]] constexpr auto word_table(Strands) {
    return Words<Strands, 3>{
        {{Strands::solid, "solid"}, {Strands::stranded, "stranded"}, {Strands::flexible, "flexible"}}};
}

}  // namespace phasewright::plan
