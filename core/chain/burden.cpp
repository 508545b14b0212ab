#include "core/chain/burden.hpp"

#include <algorithm>

namespace phasewright::chain {

namespace {
constexpr double slack = 1e-9;

BurdenState state_of(Burden const& burden) {
    if (!burden.range) return BurdenState::not_known;
    // What is known already may be too much; too little only says something when all is known.
    if (burden.total_va > burden.range->most_va * (1.0 + slack)) return BurdenState::over;
    if (!burden.leads_va || !burden.contacts_va || !burden.meter_va) return BurdenState::not_known;
    return burden.total_va < burden.range->least_va * (1.0 - slack) ? BurdenState::under
                                                                    : BurdenState::within;
}
}  // namespace

std::string_view name_of(BurdenState state) {
    switch (state) {
        case BurdenState::within: return "within";
        case BurdenState::over: return "over";
        case BurdenState::under: return "under";
        case BurdenState::not_known: return "not known";
    }
    return "";
}

Burden burden_of(LoopParts const& parts) {
    Burden burden{.rated_a = parts.rated_a};
    double const squared = parts.rated_a * parts.rated_a;
    double more_for_one_phase = 0.0;
    if (auto const loop = parts.lead ? lead_loop(*parts.lead) : std::nullopt) {
        burden.leads_ohm = loop->ohm;
        burden.leads_va = squared * loop->ohm;
        more_for_one_phase = squared * (loop->one_phase_ohm - loop->ohm);
        burden.lead_source = loop->wire.source;
        burden.assumed = loop->assumed;
    }
    burden.contacts_ohm = parts.contacts_ohm;
    if (parts.contacts_ohm) burden.contacts_va = squared * *parts.contacts_ohm;
    if (parts.meter_va) {
        double const of_input = parts.rated_a / parts.meter_rated_a;
        burden.meter_va = *parts.meter_va * of_input * of_input;
    }
    burden.total_va =
        burden.leads_va.value_or(0.0) + burden.contacts_va.value_or(0.0) + burden.meter_va.value_or(0.0);
    burden.total_ohm = burden.total_va / squared;
    burden.one_phase_va = burden.total_va + more_for_one_phase;
    return burden;
}

std::optional<double> rated_output_va(plan::CurrentTransformer const& ct) {
    if (ct.burden_va) return ct.burden_va;
    auto const* const named = standard_burden_of(written_class(ct.accuracy_class).burden);
    return named == nullptr ? std::nullopt : std::optional{named->va};
}

Burden burden_of(plan::CurrentTransformer const& ct, std::optional<plan::Lead> const& lead,
                 plan::CurrentInput const* input, std::optional<double> contacts_ohm,
                 ClassTables const& tables) {
    LoopParts parts{.rated_a = ct.ratio.secondary, .lead = lead, .contacts_ohm = contacts_ohm};
    if (input != nullptr) {
        parts.meter_va = input->burden_va;
        parts.meter_rated_a = input->rated;
    }
    auto burden = burden_of(parts);
    if (contacts_ohm == usual_contacts_ohm)
        burden.assumed.emplace_back("0.01 ohm for all contacts of the loop");
    burden.rated_va = rated_output_va(ct);
    auto const* const of = ct_class(tables, ct.accuracy_class);
    if (burden.rated_va) {
        burden.range = of ? burden_range(*of, *burden.rated_va) : BurdenRange{0.0, *burden.rated_va};
        if (of) burden.range_source = of->source;
    }
    burden.state = state_of(burden);
    if (burden.range && lead) {
        double const rest = burden.contacts_va.value_or(0.0) + burden.meter_va.value_or(0.0);
        burden.longest_lead_m =
            longest_lead_m(*lead, (burden.range->most_va - rest) / (parts.rated_a * parts.rated_a));
    }
    return burden;
}

}  // namespace phasewright::chain
