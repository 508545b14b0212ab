#include "core/chain/low_power.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace phasewright::chain {

namespace {
std::optional<double> ohm_of(std::optional<plan::Lead> const& lead, std::vector<std::string>& assumed) {
    if (!lead) return std::nullopt;
    auto own = *lead;
    own.way_back = plan::Return::own;  // every output of this kind has its own pair
    auto const loop = lead_loop(own);
    if (!loop) return std::nullopt;
    assumed.insert(assumed.end(), loop->assumed.begin(), loop->assumed.end());
    return loop->ohm;
}
}  // namespace

double loading_percent(double input_ohm, double source_ohm, double leads_ohm) {
    double const in_series = source_ohm + leads_ohm;
    return -100.0 * in_series / (input_ohm + in_series);
}

double pick_up_volts(PickUp const& lead) {
    constexpr double mu0_over_two_pi = 2e-7;  // H/m
    double const length_m = lead.lay_mm ? std::min(lead.parallel_m, *lead.lay_mm / 2000.0) : lead.parallel_m;
    double const mutual_h = mu0_over_two_pi * length_m * std::log1p(lead.spacing_mm / lead.distance_mm);
    return 2.0 * std::numbers::pi * lead.hz * lead.current_a * mutual_h;
}

VoltageCircuit voltage_circuit(plan::CurrentTransformer const& ct, std::optional<plan::Lead> const& lead,
                               plan::CurrentInput const* input, std::optional<double> source_ohm,
                               PickUp const& beside) {
    VoltageCircuit circuit{.rated_v = ct.ratio.secondary, .source_ohm = source_ohm};
    if (input != nullptr) circuit.input_ohm = input->resistance;
    circuit.leads_ohm = ohm_of(lead, circuit.assumed);
    circuit.source_left_out = !source_ohm;
    if (circuit.input_ohm && (source_ohm || circuit.leads_ohm))
        circuit.loading_percent =
            loading_percent(*circuit.input_ohm, source_ohm.value_or(0.0), circuit.leads_ohm.value_or(0.0));
    circuit.pick_up_percent = 100.0 * pick_up_volts(beside) / circuit.rated_v;
    return circuit;
}

MilliampereCircuit milliampere_circuit(plan::CurrentTransformer const& ct,
                                       std::optional<plan::Lead> const& lead, plan::CurrentInput const* input,
                                       std::optional<double> compliance_v) {
    MilliampereCircuit circuit{.rated_a = ct.ratio.secondary, .compliance_v = compliance_v};
    circuit.leads_ohm = ohm_of(lead, circuit.assumed);
    if (input != nullptr && input->resistance)
        circuit.burden_ohm = input->resistance;
    else if (input != nullptr && input->burden_va)
        circuit.burden_ohm = *input->burden_va / (input->rated * input->rated);
    if (!circuit.compliance_v && ct.burden_va) circuit.compliance_v = *ct.burden_va / circuit.rated_a;
    if (circuit.leads_ohm && circuit.burden_ohm)
        circuit.needed_v = circuit.rated_a * (*circuit.leads_ohm + *circuit.burden_ohm);
    if (circuit.needed_v && circuit.compliance_v) circuit.within = *circuit.needed_v <= *circuit.compliance_v;
    if (circuit.compliance_v && circuit.burden_ohm && lead) {
        auto own = *lead;
        own.way_back = plan::Return::own;
        circuit.longest_lead_m =
            longest_lead_m(own, *circuit.compliance_v / circuit.rated_a - *circuit.burden_ohm);
    }
    return circuit;
}

double coil_volts(double rated_v, double rated_a, double rated_hz, double current_a, double hz) {
    return rated_v * (current_a / rated_a) * (hz / rated_hz);
}

CoilCircuit coil_circuit(plan::CurrentTransformer const& ct, std::optional<plan::Lead> const& lead,
                         plan::CurrentInput const* input, double hz, std::optional<double> rated_hz) {
    CoilCircuit circuit{.rated_v = ct.ratio.secondary, .rated_hz = rated_hz.value_or(hz)};
    if (!rated_hz) circuit.assumed.emplace_back("the coil's output is rated at the supply's frequency");
    circuit.gain = coil_volts(1.0, 1.0, circuit.rated_hz, 1.0, hz);
    circuit.recalibrate = lead.has_value();
    auto const ohm = ohm_of(lead, circuit.assumed);
    if (ohm && input != nullptr && input->resistance)
        circuit.loading_percent = loading_percent(*input->resistance, 0.0, *ohm);
    return circuit;
}

}  // namespace phasewright::chain
