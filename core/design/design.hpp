// The whole of a plan that is still open, proposed: phases of one-phase circuits, meters with their CTs and
// leads, voltage transformers, taps with fuses, supplies, lines, places and addresses, in this order, since
// each stands on those before it. What the plan has decided stays; where something would be better otherwise
// it is offered, not done. What nobody can know from the plan is asked. docs/reference/plan-design.md.
#pragma once
#include <vector>

#include "core/design/catalogue.hpp"
#include "core/design/proposal.hpp"
#include "core/design/settings.hpp"
#include "core/plan/site.hpp"

namespace phasewright::design {

struct Design {
    plan::Site site;  // completed with everything that is taken
    std::vector<Proposal> proposals;
};
[[nodiscard]] Design design(plan::Site const& site, Catalogue const& catalogue,
                            std::vector<MeterOffer> const& meters, Settings const& settings = {});

struct ProposalCounts {
    std::size_t taken = 0, offered = 0, open = 0, kept = 0;
};
[[nodiscard]] ProposalCounts counted(std::vector<Proposal> const& proposals);

}  // namespace phasewright::design
