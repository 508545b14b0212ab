// After the repair: does the next reading show what was promised? The verdict before the move said what the
// same load would read once the wiring is mended (`after_repair`). Loads do not hold still, so not the numbers
// are compared but what no change of load can do to them (docs/reference/confirm.md). For element k,
//   lag      d_k = read - predicted: the site's loads may turn together, by as much as a load's angle wanders
//            between two readings; one element against the others by less than half of the 60 degrees of a
//            wrong pairing
//   current  ln(read / predicted) less its median over the elements: the level is free, the shares are not
//   voltage  the same, and the whole within the supply's own spread
// and the new reading is weighed alone, as any other. The widths come from the priors. A reading that is not
// newer than the move never confirms. "Confirmed" is said of the metering: nothing here says that anything is
// safe.
#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/diagnosis/diagnose.hpp"
#include "core/diagnosis/priors.hpp"
#include "core/diagnosis/verdict.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::diagnosis {

enum class Confirmed {
    confirmed,       // reads as predicted, and proves the planned wiring by itself
    agrees,          // reads as predicted, and does not prove the planned wiring by itself
    differs,         // reads otherwise, or shows another wiring
    not_newer,       // is not newer than the move
    cannot_compare,  // `in_words` says why
};
[[nodiscard]] std::string_view name_of(Confirmed state);  // "not_newer"

// One element: what was promised, what came.
struct ElementComparison {
    std::string name;  // "element 2 (L2)"
    ElementValues predicted, read;
    std::optional<double> turn_deg;        // of its lag against the others', beyond the common turn
    std::optional<double> current_factor;  // of its current, beyond the common factor
    std::optional<double> voltage_factor;
    std::optional<bool> agrees;  // empty: could not be compared
    bool was_to_change = false;  // the repair was to change what this element reads
    std::string why;
};

// What all elements did together, and how far each may go.
struct Comparison {
    std::vector<ElementComparison> elements;
    std::optional<double> turn_deg, current_factor, voltage_factor;
    double turn_allowed_deg = 0.0, one_turn_allowed_deg = 0.0;
    double one_current_factor_allowed = 1.0;
    double voltage_factor_allowed = 1.0, one_voltage_factor_allowed = 1.0;
    std::vector<std::string> against;  // what all of them did together and should not have
    bool by_current_only = false;      // only shares of the current are beyond their width
};

struct Confirmation {
    std::string id;
    Confirmed state = Confirmed::cannot_compare;
    std::string in_words;              // one sentence
    std::vector<std::string> reasons;  // what else was found, and what was left out
    bool by_diagnosis_alone = false;   // there was no prediction to compare with
    Comparison comparison;             // without elements where nothing was compared
    std::optional<Verdict> verdict;    // of the new reading, where it was weighed
    // Of the new reading. Where it was not weighed or could not be compared, what was to be stopped before the
    // move stands as well.
    std::vector<Finding> findings;
};

struct RepairDone {
    readings::ReadingSet const& before;
    Verdict const& verdict;  // of `before`
    readings::ReadingSet const& after;
    std::optional<std::string> moved_at;  // ISO 8601 with offset
};

// Assumes that both sets passed readings::check.
[[nodiscard]] Confirmation confirm(RepairDone const& repair, Diagnoser& diagnoser, PriorSets const& priors);

// The comparison alone. `read` is `as_read` of the new reading's verdict.
[[nodiscard]] Comparison compare(RepairDone const& repair, std::vector<ElementValues> const& read,
                                 Priors const& priors);

}  // namespace phasewright::diagnosis
