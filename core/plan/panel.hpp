// A panel as it stands on the wall: how it is supplied, what its ways feed, what box it is.
//   pole to phase, three phases   floor((n - 1) / 2) mod 3: 1 and 2 are A, 3 and 4 are B, 5 and 6 are C, 7 and 8 A again
//   split phase                   floor((n - 1) / 2) mod 2
// where odd poles stand on the left and even ones on the right. Common practice, no standard: some gear counts down one side,
// some sections are mirrored; what the pole map of the plan says goes before what is counted.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/plan/conductor_size.hpp"
#include "core/plan/service.hpp"

namespace phasewright::plan {

struct Room {
    std::string id;
    std::string name;
    std::string floor;  // as people say it: "basement"
    friend bool operator==(Room const&, Room const&) = default;
};

// The cable of a circuit or of a feeder, one phase conductor of it.
struct Cable {
    std::optional<ConductorSize> size;
    std::optional<double> diameter_mm;  // outside, over its insulation
    std::optional<Metal> metal;
    std::optional<Strands> strands;
    std::vector<std::string> colours;  // as seen, in the order of the live conductors and then the neutral
    friend bool operator==(Cable const&, Cable const&) = default;
};

struct Way {
    std::string id;                     // its number as the panel schedule writes it: "7", "Q3"
    std::vector<Conductor> conductors;  // what its poles touch, in order; n, last, where the neutral goes along
    std::optional<double> breaker_a;
    std::string name;  // what the schedule says that it feeds
    friend bool operator==(Way const&, Way const&) = default;
};

// How poles are numbered, where the map does not say it pole by pole.
enum class PoleNumbering {
    odd_left,  // odd poles left, even ones right: 1 and 2 on one phase
    in_turn,   // one row: 1, 2, 3 on A, B, C
};
[[nodiscard]] constexpr auto word_table(PoleNumbering) {
    return Words<PoleNumbering, 2>{{{PoleNumbering::odd_left, "odd-left"}, {PoleNumbering::in_turn, "in-turn"}}};
}

enum class Whereabouts { indoor, outdoor };
enum class CableEntry { top, bottom, side, back };
[[nodiscard]] constexpr auto word_table(Whereabouts) {
    return Words<Whereabouts, 2>{{{Whereabouts::indoor, "indoor"}, {Whereabouts::outdoor, "outdoor"}}};
}
[[nodiscard]] constexpr auto word_table(CableEntry) {
    return Words<CableEntry, 4>{{{CableEntry::top, "top"},
                                 {CableEntry::bottom, "bottom"},
                                 {CableEntry::side, "side"},
                                 {CableEntry::back, "back"}}};
}

struct DegreesCelsius {  // a closed range
    double least = 0.0;
    double most = 0.0;
    friend bool operator==(DegreesCelsius const&, DegreesCelsius const&) = default;
};

struct Enclosure {
    std::optional<Whereabouts> stands;
    std::string protection;  // code of IEC 60529: "IP54"; or a type, as its plate says
    std::vector<CableEntry> entries;
    std::optional<DegreesCelsius> temperature_c;  // inside
    std::optional<double> humidity_percent;       // highest, relative
    std::optional<bool> condensation;             // water is to be expected inside
    friend bool operator==(Enclosure const&, Enclosure const&) = default;
};

// Where a thing stands, in metres from any corner of the building that the plan keeps to.
struct PlaceInBuilding {
    double x_m = 0.0;
    double y_m = 0.0;
    double z_m = 0.0;  // upwards
    friend bool operator==(PlaceInBuilding const&, PlaceInBuilding const&) = default;
};

// The way that a cable would take between two panels, measured or walked.
struct CableRun {
    std::string from;  // ids of panels
    std::string to;
    double length_m = 0.0;
    friend bool operator==(CableRun const&, CableRun const&) = default;
};

struct Panel {
    std::string id;
    std::string name;
    Nominal nominal;
    std::string room;                // id of a room; empty when not said
    std::optional<Service> service;  // how the supply reaches it
    std::string fed_from;            // id of the panel in front of it; empty for the site's supply
    std::string fed_from_way;        // and of which of its ways
    std::optional<double> breaker_a;
    std::optional<double> fault_ka;  // prospective short-circuit current, rms
    std::optional<Cable> feeder;
    std::optional<PoleNumbering> numbering;
    std::vector<Way> ways;
    std::optional<Enclosure> enclosure;
    std::string colours;  // id of a colour set of the region; empty: by its voltage
    std::optional<PlaceInBuilding> place;
    friend bool operator==(Panel const&, Panel const&) = default;
};

[[nodiscard]] Way const* way_of(Panel const& panel, std::string_view id);

// By counting alone. `live` conductors: 3, 2 for split phase, 1.
[[nodiscard]] Conductor conductor_of_pole(int pole, PoleNumbering numbering, int live);

// What the way's first pole touches: by the map, else counted where the numbering is known; else empty.
[[nodiscard]] std::optional<Conductor> conductor_of_way(Panel const& panel, std::string_view way);

}  // namespace phasewright::plan
