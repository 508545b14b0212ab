// What keeps the meters themselves alive: control supplies, and how each meter hangs on one. A supply whose negative is
// tied to the communications common at one end and crossed at another closes a loop through the bus; so both are said.
#pragma once
#include <optional>
#include <string>

#include "core/plan/conductor_size.hpp"

namespace phasewright::plan {

enum class CurrentKind { ac, dc };
[[nodiscard]] constexpr auto word_table(CurrentKind) {
    return Words<CurrentKind, 2>{{{CurrentKind::ac, "ac"}, {CurrentKind::dc, "dc"}}};
}

struct ControlSupply {
    std::string id;
    std::string name;
    std::string source;  // for people: "control transformer T1"
    std::string panel;   // id of the panel that feeds it; empty when not said
    std::string way;
    CurrentKind kind = CurrentKind::ac;
    double volts = 0.0;                 // rated, at its output
    std::optional<double> available_va;  // dc: W
    std::optional<double> inrush_a;      // that it gives for a moment
    std::optional<double> fuse_a;
    std::optional<bool> tied_to_bus_common;  // its negative, or its second pole, at the supply
    friend bool operator==(ControlSupply const&, ControlSupply const&) = default;
};

// As the two wires were landed on the meter.
enum class Polarity { as_marked, crossed };
[[nodiscard]] constexpr auto word_table(Polarity) {
    return Words<Polarity, 2>{{{Polarity::as_marked, "as-marked"}, {Polarity::crossed, "crossed"}}};
}

struct SupplyFeed {
    std::string supply;         // id of a control supply; empty: from the voltages that the meter measures
    double length_m = 0.0;      // one way, from the supply
    std::optional<ConductorSize> size;
    std::optional<Polarity> polarity;
    std::optional<double> power_w;   // that the meter draws at most, where its profile does not say
    std::optional<double> power_va;
    std::optional<bool> tied_to_bus_common;  // inside this meter
    friend bool operator==(SupplyFeed const&, SupplyFeed const&) = default;
};

}  // namespace phasewright::plan
