// The wiring of one metering point as it is planned: what stands on the wall, which terminal of it goes to
// which, with what wire. It is made from the plan and from what the meter's profile says of its terminals;
// the wiring diagram, the wiring schedule and the labels are all drawn from this one list, so they cannot
// differ. What nobody has said stays empty here and is a blank line on paper.
//   voltage   conductor -> fuse -> meter, or conductor -> fuse -> voltage transformers -> fuse -> meter
//   current   CT -> shorting block (where the CT is a current loop) -> meter; S2 of all CTs earthed once, at
//   the block
// P1 (H1) faces the source. Taps are drawn on the source's side of the CTs (common practice, no source): the
// plan does not say on which side they are.
#pragma once
#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "core/plan/meter_hardware.hpp"
#include "core/plan/site.hpp"

namespace phasewright::report {

// What the meter's profile says, for this point's service.
struct MeterFacts {
    std::string name;               // "Tarnfell T3"; empty when there is no profile
    plan::TerminalNames terminals;  // current pairs in the order of the service's current inputs
    bool terminals_known =
        false;  // false: the meter's own names are not known, and are to be written in by hand
    plan::MeterHardware hardware;
};

enum class Device { conductor, fuse, vt, vt_fuse, ct, block, meter, supply, bus, earth };

// One end of a wire. `key` tells the terminals of a device apart where their names are not known.
struct Joint {
    Device device = Device::meter;
    std::string key;
    std::string place;     // "CT L1", "block", "meter"
    std::string terminal;  // "S1", "4"; empty: not known
};

struct PlannedWire {
    int number = 0;    // as its marks say
    std::string net;   // wires of one net are one conductor, electrically
    std::string says;  // what it carries: "L1 S1", "voltage L1"
    plan::WireUse use = plan::WireUse::voltage;
    Joint from, to;
    std::string colour;
    std::string size;
    std::string length;  // "18 m", "part of 18 m"
    int phase = -1;      // 0 to 2: its line pattern; 3: neutral; -1: none
};

struct WiredConductor {
    std::string letter;
    std::string colour;
    std::string note;    // "high leg", "earthed"
    std::string branch;  // of several one-phase loads
    int phase = 0;       // 0 to 2, 3: neutral
    bool fed_through_breaker = true;
};

struct WiredTap {
    std::size_t conductor = 0;
    std::string key;  // of the meter's terminal
    bool fused = false;
    int phase = 0;
};

struct WiredCt {
    std::size_t conductor = 0;
    std::string name;  // "CT L1"
    std::string key;   // "0", "1", "2": of its input
};

struct MeterRow {  // one terminal of the meter
    std::string key;
    std::string terminal;  // empty: to be written in
    std::string says;      // "voltage L1", "S1 of L1", "D1 +"
    plan::WireUse use = plan::WireUse::voltage;
};

// A box beside the meter that something comes from.
struct Origin {
    std::string title;
    std::vector<std::string> lines;  // an empty one is a blank to write on
};

struct PointWiring {
    std::string id, name, panel;  // for the title block
    std::string from;             // "From Main switchboard, way Q3"
    std::string supply_words;     // "400/230 V, 50 Hz, three-phase four-wire wye"
    std::string load_words;
    std::string meter_name, meter_serial, meter_set;
    bool terminals_known = false;
    std::vector<WiredConductor> conductors;
    std::optional<double> breaker_a;
    bool branches = false;
    bool taps_before_breaker = false;
    std::string fuse_words;  // "2 A", empty: not said
    std::vector<WiredTap> taps;
    std::optional<std::string> vt_words;  // "7200/120 V"
    std::string vt_connection;
    std::array<std::string, 2> primary_marks, secondary_marks;
    std::string ct_words;  // "400/5 A, class 0.5"
    std::vector<WiredCt> cts;
    bool current_loop = false;
    bool block = false;
    std::string block_title;
    bool common_return = false;
    std::optional<bool>
        arrow_to_load;  // what the arrow on this CT's housing means, where its own profile says it
    bool earthed_at_block = false;
    std::string earth_letters;  // "PE", "G"
    std::string earth_word;     // "earth", "ground"
    std::vector<MeterRow> rows;
    std::optional<Origin> supply, bus;
    std::string fed_from_voltages;  // a sentence where there is no control supply
    std::vector<PlannedWire> wires;
    std::vector<std::string> notes;
};

[[nodiscard]] PointWiring wiring_of(plan::Site const& site, plan::MeteringPoint const& point,
                                    MeterFacts const& meter);

// Words that several papers share.
[[nodiscard]] std::string ct_words(plan::MeteringPoint const& point);                  // "400/5 A, class 0.5"
[[nodiscard]] std::string nominal_words(plan::Nominal const& nominal);                 // "400/230 V, 50 Hz"
[[nodiscard]] std::string earth_word(plan::Region const& region);                      // "earth", "ground"
[[nodiscard]] std::string size_words(std::optional<plan::ConductorSize> const& size);  // "2.5 mm²"
[[nodiscard]] std::string joint_words(Joint const& joint);                             // "CT L1 S1"
// In the region's unit: "18 m", "59 ft".
[[nodiscard]] std::string length_words(plan::Region const& region, double metres);
[[nodiscard]] plan::Panel const* panel_of(plan::Site const& site, std::string_view id);
[[nodiscard]] bool wants_block(plan::CurrentTransformer const& ct);
// "(text) NEC 250.170" with the edition where one is named, else "edition in force"; empty: the region has no
// such rule.
[[nodiscard]] std::string rule_words(plan::Region const& region, std::string_view id);

}  // namespace phasewright::report
