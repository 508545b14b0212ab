// The outputs that are no 5 A or 1 A loop.
//   voltage   333 mV and the like: the meter's input loads the transformer's source resistance and the lead,
//             V_in / V = R_in / (R_in + R_source + R_leads); and the lead's open area picks up volts from the
//             currents beside it, at most  V = 2 pi f I (mu0 / 2 pi) l ln((d + s) / d)
//   mA        20, 80, 100 mA: the burden stands at the meter, so long leads change nothing as long as the
//   transformer
//             can drive its current through them, I (R_leads + R_burden) within its compliance voltage
//   coil      an air-core coil gives v = M di/dt: in proportion to the frequency, a quarter turn ahead; it is
//             calibrated together with its lead
// docs/physics/chain.md, equations 6 to 9. Trade outputs have no standard rating: common practice, no source;
// passive low-power transformers are IEC 61869-10.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/chain/lead.hpp"
#include "core/plan/meter_hardware.hpp"

namespace phasewright::chain {

// Percent that the meter's input gets too little (negative), of what the open transformer gives.
[[nodiscard]] double loading_percent(double input_ohm, double source_ohm, double leads_ohm);

// Two wires side by side for `parallel_m` along a conductor that carries `current_a`.
struct PickUp {
    double current_a = 0.0;
    double hz = 50.0;
    double parallel_m = 1.0;
    double distance_mm = 20.0;     // from the conductor's centre to the nearer wire
    double spacing_mm = 3.0;       // between the wires' centres
    std::optional<double> lay_mm;  // of a twisted pair: what is left is half a turn of it
};
[[nodiscard]] double pick_up_volts(PickUp const& lead);  // an upper bound

struct VoltageCircuit {
    double rated_v = 0.0;
    std::optional<double> input_ohm, source_ohm, leads_ohm;
    std::optional<double>
        loading_percent;           // source and leads together; needs the input and one of the others
    bool source_left_out = true;   // the source resistance is not known: only the leads are in it
    double pick_up_percent = 0.0;  // bound at the rated current, of the rated output
    std::vector<std::string> assumed;
};
[[nodiscard]] VoltageCircuit voltage_circuit(plan::CurrentTransformer const& ct,
                                             std::optional<plan::Lead> const& lead,
                                             plan::CurrentInput const* input,
                                             std::optional<double> source_ohm, PickUp const& beside);

struct MilliampereCircuit {
    double rated_a = 0.1;
    std::optional<double> leads_ohm, burden_ohm;
    std::optional<double> needed_v;      // at the rated current; needs the lead and the burden
    std::optional<double> compliance_v;  // that the transformer gives
    std::optional<bool> within;
    std::optional<double> longest_lead_m;
    std::vector<std::string> assumed;
};
[[nodiscard]] MilliampereCircuit milliampere_circuit(plan::CurrentTransformer const& ct,
                                                     std::optional<plan::Lead> const& lead,
                                                     plan::CurrentInput const* input,
                                                     std::optional<double> compliance_v);

struct CoilCircuit {
    double rated_v = 0.0;  // at the rated current and frequency
    double rated_hz = 50.0;
    double gain = 1.0;  // at the supply's frequency, of that at the rated one: 1.2 for a 50 Hz coil at 60 Hz
    std::optional<double> loading_percent;  // of a lead beyond the coil's own
    bool recalibrate = false;  // a lead stands in the plan: its own must not be extended without it
    std::vector<std::string> assumed;
};
// Volts of a coil of this rating at another current and frequency; the h-th harmonic counts h times.
[[nodiscard]] double coil_volts(double rated_v, double rated_a, double rated_hz, double current_a, double hz);
[[nodiscard]] CoilCircuit coil_circuit(plan::CurrentTransformer const& ct,
                                       std::optional<plan::Lead> const& lead, plan::CurrentInput const* input,
                                       double hz, std::optional<double> rated_hz);

}  // namespace phasewright::chain
