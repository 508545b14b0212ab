// A decision that is proposed, never one that is made: what, why this, why not the next ones, and what it
// costs in cable and in volt-amperes. Nothing that the plan has decided is changed without `instead_of`
// saying so, and where somebody has overruled a proposal the reason stands in the plan and nothing is
// proposed again.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/plan/words.hpp"

namespace phasewright::design {

enum class Part { inputs, sharing, meter, ct, lead, vt, tap, supply, line, position, address };
[[nodiscard]] constexpr auto word_table(Part) {
    return plan::Words<Part, 11>{{{Part::inputs, "inputs"},
                                  {Part::sharing, "sharing"},
                                  {Part::meter, "meter"},
                                  {Part::ct, "ct"},
                                  {Part::lead, "lead"},
                                  {Part::vt, "vt"},
                                  {Part::tap, "tap"},
                                  {Part::supply, "supply"},
                                  {Part::line, "line"},
                                  {Part::position, "position"},
                                  {Part::address, "address"}}};
}

enum class Standing {
    taken,    // it stands in the completed plan
    offered,  // it would change what is decided, or needs somebody's yes: not in the completed plan
    open,     // nothing fits, or something must be known first
    kept,     // somebody overruled it; the reason stands in the plan
};
[[nodiscard]] constexpr auto word_table(Standing) {
    return plan::Words<Standing, 4>{{{Standing::taken, "taken"},
                                     {Standing::offered, "offered"},
                                     {Standing::open, "open"},
                                     {Standing::kept, "kept"}}};
}

struct NotChosen {
    std::string choice;
    std::string because;  // the binding constraint: a clause without a full stop
};

struct Cost {
    double cable_m = 0.0;
    double va = 0.0;
};

struct Proposal {
    Part part = Part::ct;
    std::string where;  // id of a point, a line, a supply or a panel
    Standing standing = Standing::taken;
    std::string choice;                // "100/5 A, class 0.5S (Marrowdene R21-100)"; empty where nothing fits
    std::vector<std::string> reasons;  // sentences without a full stop
    std::vector<NotChosen> others;     // the next ones, best first
    std::vector<std::string> assumed;  // what the plan does not say and was taken for granted
    std::string instead_of;            // what was decided before and is changed by it
    std::string ask;                   // what to find out, where it is open
    Cost cost;
};

}  // namespace phasewright::design
