// What really is in the building, as only its virtual meters know it: what the supply gives, what the loads
// draw, which conductor each voltage lead touches, where each current transformer sits and which way round.
// docs/reference/twin.md is the file format. There is no word for a mistake here, only where leads run.
#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "core/plan/site.hpp"

namespace phasewright::twin {

enum class SupplyKind { wye, split_phase, high_leg };

struct Supply {
    SupplyKind kind = SupplyKind::wye;
    std::vector<double> v;  // rms of the fundamental to the neutral or centre, conductors a, b, c
    plan::Conductor high_leg = plan::Conductor::b;
    double hz = 50.0;
    plan::Sequence rotation = plan::Sequence::abc;
    double fifth = 0.012;  // shares of the fundamental
    double seventh = 0.008;
};

struct Load {
    std::optional<std::pair<plan::Conductor, plan::Conductor>>
        between;           // empty: a triangle of three equal branches
    double amps = 0.0;     // rms of the fundamental; of a triangle, the line current
    double lag_deg = 0.0;  // of the current behind the branch's voltage; delivered energy is 180 degrees more
    double third = 0.0;    // shares of the fundamental
    double fifth = 0.0;
    double seventh = 0.0;
};

// A voltage lead that touches nothing: its terminal floats, or holds a smaller copy of another conductor's
// voltage.
struct LooseLead {
    std::optional<double> ghost_v;
    plan::Conductor copy_of = plan::Conductor::a;
};
using Landing = std::variant<plan::Conductor, LooseLead>;

struct FittedCt {
    std::optional<plan::Conductor> round;  // empty: round nothing
    bool p1_faces_source = true;
    bool s1_on_s1 = true;
    bool links_closed = false;
    double window_share =
        1.0;  // of the conductor's current that passes the window: one of two parallel cables 0.5
    quantity::TransformerRatio ratio{1.0, 1.0};
    quantity::TransformerRatio programmed{1.0, 1.0};
};

struct Wander {
    double amps_percent = 3.0;  // standard deviation over a long time
    double degrees = 2.0;
};
struct Noise {
    double volts = 0.05;   // standard deviation of one sample
    double amps = 0.0002;  // on the meter's side, per unit of the CT's rated secondary
};

struct WiredPoint {
    std::string id;
    bool float_numbers = false;  // a SunSpec meter of the floating-point kind
    std::vector<Load> loads;
    std::vector<Landing> taps;       // one a voltage terminal
    std::optional<Landing> neutral;  // of the meter's neutral terminal; empty when the meter has none
    std::vector<FittedCt> cts;       // one a current input
    Wander wander;
    Noise noise;
};

struct WiredSite {
    std::uint64_t seed = 1;
    std::map<std::string, Supply> supplies;    // by panel id
    std::map<std::string, WiredPoint> points;  // by point id
};

}  // namespace phasewright::twin
