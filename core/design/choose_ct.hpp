// Which current transformer of a catalogue for a point and a meter, with which lead. Each of them must
//   be taken by the meter's input: kind of output, rated output, and what the highest current of the load
//   gives be rated for the breaker: rated primary >= breaker (common practice, no source), and carry the
//   highest current be insulated for the line voltage; a coil: for the frequency let the cables of a phase
//   through its window drive lead, contacts and input within the range for which its class holds
//   (core/chain/burden.hpp)
// and those that do are ranked by the bound of error over the energy of the load (core/design/load.hpp), in
// steps of 0.01 %; of equal ones the smaller rated primary goes first, then the tighter window, then the
// name.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/chain/class_tables.hpp"
#include "core/design/catalogue.hpp"
#include "core/design/load.hpp"
#include "core/design/proposal.hpp"
#include "core/design/settings.hpp"
#include "core/plan/site.hpp"

namespace phasewright::design {

// What is asked of the current transformers of one point.
struct CtNeed {
    plan::MeteringPoint const* point = nullptr;
    plan::Panel const* panel = nullptr;
    std::optional<double> breaker_a;
    LoadProfile load;
    plan::MeterHardware const* meter = nullptr;
    bool first_commissioning = true;
    plan::SizeSystem sizes = plan::SizeSystem::metric;
};

struct CtChoice {
    CtOffer const* offer = nullptr;
    std::optional<plan::Lead> lead;  // empty: it comes with its own
    std::optional<EnergyBound> bound;
    std::vector<std::string> reasons;
    std::vector<std::string> assumed;
};
struct CtRanking {
    std::optional<CtChoice> best;
    std::vector<NotChosen> others;  // those before it that fail, then the next that would do
};
[[nodiscard]] CtRanking rank_cts(CtNeed const& need, Catalogue const& catalogue, Settings const& settings,
                                 chain::ClassTables const& tables = chain::built_in_tables());

// The wires of a use that the terminals of the meter take, of the region's kind of sizes, thinnest first.
[[nodiscard]] std::vector<WireOffer const*> wires_for_use(Catalogue const& catalogue, plan::WireUse use,
                                                          plan::SizeSystem sizes,
                                                          plan::MeterHardware const* meter, double volts);

}  // namespace phasewright::design
