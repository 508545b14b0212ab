// What can be bought, as a catalogue file says it (docs/reference/catalogue.md): current and voltage
// transformers, fuses, control supplies, wire. Meters are not in it; they are profiles. Whatever a maker does
// not say stays empty, and what depends on it is then not claimed.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/plan/instruments.hpp"
#include "core/plan/meter_hardware.hpp"
#include "core/plan/supply.hpp"

namespace phasewright::design {

enum class Core { solid, split };  // whether it opens to go round a cable that stays connected
[[nodiscard]] constexpr auto word_table(Core) {
    return plan::Words<Core, 2>{{{Core::solid, "solid"}, {Core::split, "split"}}};
}

struct CtOffer {
    plan::CurrentTransformer ct;  // with its model
    std::string maker;
    std::optional<Core> core;
    std::optional<double> highest_v;     // rated insulation voltage, V
    std::optional<double> source_ohm;    // of a voltage output
    std::optional<double> compliance_v;  // of a mA output
    std::optional<double> rated_hz;      // of a coil
    std::optional<double> own_lead_m;    // that it comes with; a coil is calibrated together with it
};

struct VtOffer {
    plan::VoltageTransformer vt;
    std::string maker;
    quantity::TransformerRatio ratio;  // V/V
};

struct FuseOffer {
    std::string model;
    std::string maker;
    double rated_a = 1.0;
    double volts = 0.0;                     // ac, rms
    double breaking_ka = 0.0;               // at those volts
    std::optional<double> let_through_a2s;  // greatest I2t, at those volts and its breaking capacity
};

struct SupplyOffer {
    std::string model;
    std::string maker;
    plan::CurrentKind kind = plan::CurrentKind::dc;  // of its output
    plan::Between input_v;                           // ac, rms
    double volts = 24.0;
    double available_va = 0.0;  // dc: W
    std::optional<double> inrush_a;
};

struct WireOffer {
    plan::ConductorSize size;
    plan::Metal metal = plan::Metal::copper;
    plan::Strands strands = plan::Strands::stranded;
    std::vector<plan::WireUse> uses;
    double volts = 0.0;       // of its insulation
    std::optional<double> k;  // A sqrt(s) / mm2: 115 for copper in PVC; of k2 S2
    std::optional<double> ampacity_a;
    std::optional<double> diameter_mm;  // outside
};

struct Catalogue {
    std::string name;
    std::vector<CtOffer> cts;
    std::vector<VtOffer> vts;
    std::vector<FuseOffer> fuses;
    std::vector<SupplyOffer> supplies;
    std::vector<WireOffer> wires;
};

// A meter that could be chosen: a profile.
struct MeterOffer {
    std::string profile;  // name of its file
    std::string name;     // for people
    plan::MeterHardware hardware;
    std::vector<plan::Service> services;
    int current_inputs = 0;  // pairs of terminals
};

}  // namespace phasewright::design
