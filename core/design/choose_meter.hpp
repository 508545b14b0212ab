// Which meter for a point, together with the current transformers that suit both. A meter must
//   be set to the point's service, with an element for every conductor but one (Blondel 1893;
//   docs/reference/services.md) bear the panel's voltages, directly or behind voltage transformers of the
//   catalogue have an input for the CTs that are decided, or for some of the catalogue that do be reached as
//   the plan has decided: a serial line's format, or Ethernet live in its panel: temperature and humidity of
//   the enclosure
// Those that do are ranked: accuracy that is wanted first, then direct voltage, then the bound of error over
// the load in steps of 0.05 %, then one that the site has already, then the smaller need of supply, then the
// name.
#pragma once
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "core/design/choose_ct.hpp"

namespace phasewright::design {

struct MeterNeed {
    plan::MeteringPoint const* point = nullptr;
    plan::Panel const* panel = nullptr;
    plan::SerialLine const* line = nullptr;       // that its address is on; null: none, or not decided
    plan::ControlSupply const* supply = nullptr;  // that its feed is decided on; null: none
    std::optional<double> breaker_a;
    std::optional<LoadProfile> load;  // empty: no current and no breaker is known
    bool first_commissioning = true;
    plan::SizeSystem sizes = plan::SizeSystem::metric;
    std::set<std::string> const* in_use = nullptr;  // profiles that the site has
};

struct MeterChoice {
    MeterOffer const* offer = nullptr;
    VtOffer const* vt = nullptr;   // null: directly
    std::optional<CtRanking> cts;  // empty: the CTs are decided
    std::optional<EnergyBound> bound;
    std::vector<std::string> reasons;
};
struct MeterRanking {
    std::optional<MeterChoice> best;
    std::vector<NotChosen> others;
};
[[nodiscard]] MeterRanking rank_meters(MeterNeed const& need, std::vector<MeterOffer const*> const& offers,
                                       Catalogue const& catalogue, Settings const& settings);

// What speaks against a meter's voltage inputs, connected directly; empty: nothing.
[[nodiscard]] std::string against_direct_voltage(plan::MeterHardware const& meter, plan::Service service,
                                                 plan::ModelOptions const& options,
                                                 plan::Nominal const& nominal);
struct VtRanking {
    VtOffer const* best = nullptr;
    std::vector<std::string> reasons;
    std::vector<NotChosen> others;
};
[[nodiscard]] VtRanking rank_vts(plan::MeterHardware const& meter, plan::Nominal const& nominal,
                                 Catalogue const& catalogue, Settings const& settings);

}  // namespace phasewright::design
