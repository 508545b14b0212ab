// The meter as a thing with screws: what its terminals are called, what may land on them, what feeds it, what
// it bears. A profile says it (docs/reference/profile.md); plan checks, the wiring schedule and the words of
// a repair use it. What a profile does not say stays empty; nothing here is guessed.
#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/plan/site.hpp"

namespace phasewright::plan {

struct Between {  // a closed range
    double least = 0.0;
    double most = 0.0;
};

// --- terminals ---

enum class BusRole {
    d1,      // positive against d0 while the line is idle (TIA-485's B)
    d0,      // negative against d1 while the line is idle (TIA-485's A)
    common,  // the third wire that every serial line needs
    shield,
    socket,  // a socket of eight contacts, for Ethernet
};
[[nodiscard]] std::string_view name_of(BusRole role);  // "d1"

struct BusTerminal {
    std::string label;  // the terminal's name: "34"
    BusRole role = BusRole::d1;
    std::string printed;  // the polarity as the meter prints it: "A", "B", "+", "-"; never trusted against a
                          // voltmeter
};

enum class SupplyRole { line, neutral, second_line, positive, negative, earth };
[[nodiscard]] std::string_view name_of(SupplyRole role);  // "line"
struct SupplyTerminal {
    std::string label;
    SupplyRole role = SupplyRole::line;
};

// --- inputs ---

// One kind of current transformer that the current inputs take.
struct CurrentInput {
    CtOutput output = CtOutput::five_amperes;
    double rated = 5.0;                // A; V for "mV" and "coil"
    std::optional<double> most;        // for ever, same unit
    std::optional<double> burden_va;   // at the rated current, each input; for current loops
    std::optional<double> resistance;  // ohm; for voltage outputs
    bool commoned =
        false;  // the low sides of all inputs are one node inside the meter; false: each by itself
    bool low_side_earthed = false;  // and that node is connected to earth inside the meter
};

struct VoltageInputs {
    std::optional<double> most_ln;    // V, direct connection
    std::optional<double> most_ll;    // V, direct connection; above it a voltage transformer is needed
    std::optional<double> least_ll;   // V, below it accuracy is not stated
    std::string category;             // measurement category: "CAT III 300 V"
    std::optional<double> burden_va;  // each input, at the highest voltage
};

enum class WireUse { voltage, current, supply, bus, earth };
[[nodiscard]] std::string_view name_of(WireUse use);  // "voltage"

struct WireRange {
    WireUse use = WireUse::voltage;
    std::optional<Between> mm2;              // cross-section, mm2
    std::string thinnest_awg, thickest_awg;  // "24", "12", "1/0"
    std::optional<double> strip_mm;          // length to strip, mm
    std::optional<Between> torque_nm;        // N·m; both ends equal when one value is given
};

// --- supply and limits ---

enum class SupplyKind {
    ac,
    dc,
    ac_or_dc,
    voltage_inputs
};                                                        // the last: fed from the voltages that it measures
[[nodiscard]] std::string_view name_of(SupplyKind kind);  // "ac-or-dc"

struct MeterSupply {
    SupplyKind kind = SupplyKind::ac;
    std::optional<Between> ac_v, dc_v;  // V
    std::optional<Between> hz;
    std::optional<double> power_w;
    std::optional<double> power_va;
    std::optional<double> inrush_a;
    std::optional<double> inrush_ms;
    std::optional<double> fuse_a;   // largest overcurrent device in front of it
    bool isolated_from_bus = true;  // false: a shared supply connects the commons of all meters
};

struct MeterLimits {
    std::optional<Between> temperature_c;
    std::optional<double> humidity_percent;  // not condensing
    std::optional<double> altitude_m;
};

struct AccuracyClass {
    std::string standard;   // "IEC 62053-22"
    std::string word;       // "0.5S"
    bool reactive = false;  // of reactive energy; false: of active
};

// --- bus ---

enum class BusKind { serial, ethernet, either, both };  // either: one of the two at a time
[[nodiscard]] std::string_view name_of(BusKind kind);   // "either"

struct MeterBus {
    BusKind kind = BusKind::serial;
    std::vector<int> bit_rates;  // that can be set, bit/s
    std::vector<Parity> parities;
    std::vector<int> stop_bits;
    std::optional<SerialFormat> delivered;  // as it leaves the works
    std::optional<int> delivered_address;
    std::optional<double> unit_load;  // of the line's 32; 0.125 for an eighth
    std::optional<int> most_devices;  // on one line, as documented
    std::optional<bool> terminator;   // a terminator inside that can be switched on
    std::optional<double> answer_ms;  // longest time until it answers
};

struct MeterHardware {
    std::vector<SupplyTerminal> supply_terminals;
    std::vector<BusTerminal> bus_terminals;
    std::string earth_terminal;  // empty: it has none
    std::vector<CurrentInput> current_inputs;
    std::optional<VoltageInputs> voltage_inputs;
    std::vector<WireRange> wires;
    std::optional<MeterSupply> supply;
    std::optional<MeterLimits> limits;
    std::vector<AccuracyClass> accuracy;
    std::optional<MeterBus> bus;
};

[[nodiscard]] CurrentInput const* input_for(MeterHardware const& meter,
                                            CtOutput output);                       // null: not accepted
[[nodiscard]] WireRange const* wires_for(MeterHardware const& meter, WireUse use);  // null: not said

}  // namespace phasewright::plan
