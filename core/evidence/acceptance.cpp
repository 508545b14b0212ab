#include "core/evidence/acceptance.hpp"

#include <algorithm>

#include "core/chain/uncertainty.hpp"

namespace phasewright::evidence {

namespace {
using plan::Footing;

chain::Citation practice(std::string what) { return {std::move(what), "", "", Footing::practice, false}; }
}  // namespace

std::vector<AcceptanceLimit> built_in_limits() {
    chain::Citation const c12{"ANSI C12.1", "", "in-service performance", Footing::memory, false};
    chain::Citation const insulation{"IEC 60364-6", "2016", "6.4.3.3, Table 6.1", Footing::memory, false};
    chain::Citation const no_load{"IEC 62052-11", "2020", "test of no-load condition", Footing::memory,
                                  false};
    chain::Citation const start{"IEC 62053-21 and -22", "", "starting current", Footing::memory, false};
    return {
        {"registration.in-service", "error of a metering point's energy, in service", "%", -2.0, 2.0, c12},
        {"registration.weighted", "error of the weighted average registration", "%", -2.0, 2.0, c12},
        {"advance.against-power", "register advance against integrated power", "%", -2.0, 2.0,
         practice("common practice, no source")},
        {"pulse.weight", "energy of one pulse against what is declared", "%", -1.0, 1.0,
         practice("common practice, no source")},
        {"ratio.plate", "ratio on site against the plate", "%", -3.0, 3.0,
         practice("common practice, no source: it tells one plate from another, not the class")},
        {"loop.resistance", "loop resistance against the plan", "%", -30.0, 50.0,
         practice("common practice, no source: it finds a short, another wire or a bad contact")},
        {"insulation.extra-low", "insulation of an extra-low-voltage circuit, 250 V dc", "Mohm", 0.5,
         std::nullopt, insulation},
        {"insulation.500-v", "insulation of a circuit up to 500 V, 500 V dc", "Mohm", 1.0, std::nullopt,
         insulation},
        {"insulation.above-500-v", "insulation of a circuit above 500 V, 1000 V dc", "Mohm", 1.0,
         std::nullopt, insulation},
        {"earth.connected", "CT secondary to earth, its earth connected", "ohm", std::nullopt, 5.0,
         practice("common practice, no source")},
        {"earth.lifted", "CT secondary to earth, its earth lifted", "ohm", 100e3, std::nullopt,
         practice("common practice, no source")},
        {"no-load.pulses", "pulses without a load during the test", "pulses", std::nullopt, 1.0, no_load},
        {"starting.pulse-time", "time of two pulses at the starting current, in shares of the expected time",
         "", std::nullopt, 1.5, start},
    };
}

AcceptanceLimit const* AcceptanceLimits::find(std::string_view id) const {
    auto const found = std::ranges::find(all_, id, &AcceptanceLimit::id);
    return found == all_.end() ? nullptr : &*found;
}

void AcceptanceLimits::set(AcceptanceLimit limit) {
    auto const found = std::ranges::find(all_, limit.id, &AcceptanceLimit::id);
    if (found == all_.end())
        all_.push_back(std::move(limit));
    else
        *found = std::move(limit);
}

double full_load_weight(Weighting weighting) {
    switch (weighting) {
        case Weighting::four_to_one: return 0.8;
        case Weighting::even: return 0.5;
        case Weighting::seventy_thirty: return 0.7;
        case Weighting::seventy_five: return 0.75;
    }
    return 0.8;
}

chain::Citation source_of(Weighting weighting) {
    if (weighting == Weighting::four_to_one)
        return {"ANSI C12.1", "", "weighted average registration", plan::Footing::memory, false};
    return {"rules of the place", "", "weighted average registration", plan::Footing::memory, false};
}

WeightedRegistration weighted(AtTwoLoads const& loads, Weighting weighting) {
    double const w = full_load_weight(weighting);
    WeightedRegistration all{.percent = w * loads.full_percent + (1.0 - w) * loads.light_percent,
                             .source = source_of(weighting)};
    std::vector<double> const u{w * loads.u_full, (1.0 - w) * loads.u_light};
    double const both = chain::combined_alike(u, loads.same_instrument ? 1.0 : 0.0);
    all.uncertainty = uncertainty_of({{"both loads", both, std::nullopt}});
    return all;
}

}  // namespace phasewright::evidence
