// What a 5 A or 1 A current transformer must drive: leads, contacts, meter.
//   VA = I^2 (R_leads + R_contacts) + VA_meter        (docs/physics/chain.md, equation 5)
// Too much, and the core needs more magnetizing current than its class allows: it reads low. Too little is
// outside of the class as well: IEC classes hold from a quarter of the rated output, IEEE ones for named
// burdens. Reactances are left out: leads have next to none, meters are taken as resistive. So this is a
// little too high where a meter's burden is inductive.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/chain/class_tables.hpp"
#include "core/chain/lead.hpp"
#include "core/chain/standard_burdens.hpp"

namespace phasewright::chain {

// Terminals, links and test blocks of one loop, in ohm: common practice, no source.
inline constexpr double usual_contacts_ohm = 0.01;

enum class BurdenState {
    within,
    over,       // more than the rated output
    under,      // less than the class holds for
    not_known,  // a part of it, or what the transformer bears, is not said
};
[[nodiscard]] std::string_view name_of(BurdenState state);

// One part may be empty: not known. Then `total_va` holds the rest, which the true burden is at least.
struct Burden {
    double rated_a = 5.0;  // secondary
    std::optional<double> leads_ohm, contacts_ohm;
    std::optional<double> leads_va, contacts_va, meter_va;
    double total_va = 0.0;
    double total_ohm = 0.0;            // total_va / rated_a^2
    double one_phase_va = 0.0;         // with one phase alone loaded, which matters for a common return
    std::optional<double> rated_va;    // what the transformer is made for
    std::optional<BurdenRange> range;  // within which its class holds
    BurdenState state = BurdenState::not_known;
    std::optional<double> longest_lead_m;  // one way, of this wire, within the range
    Citation lead_source;                  // where leads_va comes from
    Citation range_source;
    std::vector<std::string> assumed;
};

struct LoopParts {
    double rated_a = 5.0;
    std::optional<plan::Lead> lead;
    std::optional<double> contacts_ohm = usual_contacts_ohm;  // of the loop
    std::optional<double> meter_va;                           // at meter_rated_a
    double meter_rated_a = 5.0;
};
[[nodiscard]] Burden burden_of(LoopParts const& parts);

// The VA that a CT's plate rates: written there, or by the burden that its class names.
[[nodiscard]] std::optional<double> rated_output_va(plan::CurrentTransformer const& ct);

// The burden of a planned CT with its lead and the meter's input, held against its class. For 5 A and 1 A
// outputs.
[[nodiscard]] Burden burden_of(plan::CurrentTransformer const& ct, std::optional<plan::Lead> const& lead,
                               plan::CurrentInput const* input,
                               std::optional<double> contacts_ohm = usual_contacts_ohm,
                               ClassTables const& tables = built_in_tables());

}  // namespace phasewright::chain
