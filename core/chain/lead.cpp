#include "core/chain/lead.hpp"

namespace phasewright::chain {

std::optional<LeadLoop> lead_loop(plan::Lead const& lead) {
    if (!lead.size) return std::nullopt;
    LeadLoop loop;
    Wire wire{*lead.size};
    if (lead.metal)
        wire.metal = *lead.metal;
    else
        loop.assumed.emplace_back("leads of copper");
    if (lead.strands)
        wire.strands = *lead.strands;
    else
        loop.assumed.emplace_back("stranded leads");
    if (lead.temperature_c)
        wire.temperature_c = *lead.temperature_c;
    else
        loop.assumed.emplace_back("leads at 20 °C");
    if (!lead.way_back) loop.assumed.emplace_back("a return lead for each current transformer");
    loop.wire = resistance_of(wire);
    double const one_way = loop.wire.ohm_per_km * lead.length_m / 1000.0;
    loop.one_phase_ohm = 2.0 * one_way;
    loop.ohm = lead.way_back == plan::Return::common ? one_way : loop.one_phase_ohm;
    return loop;
}

std::optional<double> longest_lead_m(plan::Lead const& lead, double ohm) {
    auto metre = lead;
    metre.length_m = 1.0;
    auto const loop = lead_loop(metre);
    if (!loop || ohm < 0.0) return std::nullopt;
    return ohm / loop->ohm;
}

}  // namespace phasewright::chain
