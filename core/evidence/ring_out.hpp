// Which end belongs to which mark? Leads run from the transformers to the panel and every end bears a mark; a
// wire that was pulled as S1 of L1 may arrive under the mark of another. With everything dead and both ends
// free, one person ties two ends, another looks for continuity. What must come out is a permutation: every
// near mark has one far mark. So a pair that is found excludes others, and the last ones follow without being
// rung.
//   an end pair is proved when every permutation that agrees with the readings holds it
#pragma once
#include <expected>
#include <optional>
#include <string>
#include <vector>

#include "core/evidence/judgement.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::evidence {

// A lead rings when its resistance is below this; common practice, no source.
inline constexpr double usual_continuity_ohm = 5.0;
inline constexpr double usual_open_ohm = 10e3;

struct Ringing {
    std::string near, far;      // marks: "CT1 S1" at the transformer, "CT1 S1" at the panel
    std::optional<double> ohm;  // empty: open, beyond the instrument's range
};
struct RingOutTest {
    std::vector<std::string> near, far;  // all marks, as many here as there
    std::vector<Ringing> rung;
    double continuity_ohm = usual_continuity_ohm;
    double open_ohm = usual_open_ohm;  // from here on it counts as open; between, a reading is doubtful
};

struct LeadEnds {
    std::string near;
    std::optional<std::string> far;  // empty: not settled
    bool rung = false;               // false: it follows from the others
    bool as_marked = false;          // both ends bear the same mark
};
struct RingOut {
    Outcome outcome = Outcome::not_provable;
    std::string reason;
    std::vector<LeadEnds> leads;        // in the order of `near`
    std::vector<std::string> findings;  // shorts between leads, exchanged marks
    std::optional<Ringing> next;        // which pair to ring next
};
// A fault for marks that are not in the lists, or lists that do not fit each other.
[[nodiscard]] std::expected<RingOut, quantity::Fault> rung_out(RingOutTest const& test);

}  // namespace phasewright::evidence
