// What a region paints and prints: the names of its conductors, the colours of their insulation, the marks on its current
// transformers, the unit of its wire sizes, the clauses it goes by. Data, one file a region (docs/reference/regions.md);
// "iec" and "north-america" are known without any file. Old and new colours hang side by side in one building, so a region
// has several sets. Nothing here says that a conductor of some colour is what its colour says.
#pragma once
#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/plan/conductor_size.hpp"

namespace phasewright::plan {

// How well a statement is founded: read in its source or a copy of it, derived, done by the trade, written from memory.
enum class Footing { seen, derived, practice, memory };
[[nodiscard]] constexpr auto word_table(Footing) {
    return Words<Footing, 4>{{{Footing::seen, "seen"},
                              {Footing::derived, "derived"},
                              {Footing::practice, "practice"},
                              {Footing::memory, "memory"}}};
}

struct PhaseNames {
    std::string id;  // "l1-l2-l3"
    std::array<std::string, 3> phases;
    std::string neutral;
    std::string earth;
    friend bool operator==(PhaseNames const&, PhaseNames const&) = default;
};

struct ColourSet {
    std::string id;                     // "iec-60445"
    std::string title;                  // for people: "IEC 60445"
    std::array<std::string, 3> phases;  // "brown"; two colours of one insulation as "green-yellow"
    std::string neutral;
    std::string earth;
    std::string high_leg;             // of a high-leg delta; empty: as its phase
    std::optional<double> least_ll_v;  // line voltages that it is used for
    std::optional<double> most_ll_v;
    std::string source;
    Footing footing = Footing::memory;
    friend bool operator==(ColourSet const&, ColourSet const&) = default;
};

struct RuleText {
    std::string id;  // "high-leg-marking"
    std::string text;
    std::string standard;
    std::string edition;  // empty: the edition in force
    std::string clause;
    Footing footing = Footing::memory;
    friend bool operator==(RuleText const&, RuleText const&) = default;
};

enum class SizeSystem { metric, awg };
[[nodiscard]] constexpr auto word_table(SizeSystem) {
    return Words<SizeSystem, 2>{{{SizeSystem::metric, "mm2"}, {SizeSystem::awg, "awg"}}};
}

struct Region {
    std::string name = "iec";
    std::array<std::string, 4> conductors{"L1", "L2", "L3", "N"};  // the names in use, of `phase_names`
    std::array<std::string, 2> primary_marks{"P1", "P2"};
    std::array<std::string, 2> secondary_marks{"S1", "S2"};
    std::string earth = "PE";
    std::string title;
    SizeSystem sizes = SizeSystem::metric;
    std::vector<PhaseNames> phase_names;  // the first is usual
    std::vector<ColourSet> colour_sets;   // the first that fits a panel's voltage is usual
    std::vector<RuleText> rules;
    std::string names_in_use;  // id in phase_names
    std::string colours;       // id in colour_sets, where the site has said which
    friend bool operator==(Region const&, Region const&) = default;
};

inline constexpr std::array<std::string_view, 2> built_in_regions{"iec", "north-america"};
[[nodiscard]] std::optional<Region> region_of(std::string_view name);  // of those

// False when the region has no such names.
[[nodiscard]] bool use_names(Region& region, std::string_view id);

// The colours for a line voltage (0: not known): those named first, else those of the site, else the first that fit.
[[nodiscard]] ColourSet const* colours_for(Region const& region, std::string_view named, double v_ll);
[[nodiscard]] RuleText const* rule_of(Region const& region, std::string_view id);

// "Grey", "gray": one colour. "light blue", "light-blue": another.
[[nodiscard]] bool same_colour(std::string_view one, std::string_view other);

}  // namespace phasewright::plan
