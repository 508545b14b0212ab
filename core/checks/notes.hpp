// Where the rules write down what they find. It knows the rule that is at work, the user's limits over it,
// and it alone decides how much a finding may weigh: a limit from memory that nobody confirmed makes a *mind*
// and no more, unless physics alone makes the thing dangerous.
#pragma once
#include <initializer_list>
#include <string>
#include <vector>

#include "core/checks/finding.hpp"
#include "core/checks/rule.hpp"

namespace phasewright::checks {

struct Note {
    std::vector<Place> places;
    std::string what;
    std::optional<double> value;
    std::optional<double> limit;       // empty where there is no number
    std::string unit;                  // empty: the rule's
    std::string remedy;                // empty: the rule's
    std::optional<Severity> severity;  // empty: the rule's
    std::optional<RuleSource> source;  // of this number, where it is not the rule's own
    bool by_physics = false;           // dangerous whatever any edition says
};

class Notes {
public:
    explicit Notes(Limits const& limits) : limits_(limits) {}

    void begin(Rule const& rule);
    [[nodiscard]] double limit() const;  // of the rule at work: the user's, else its own
    void add(Note note);

    [[nodiscard]] std::vector<Finding> take();  // most severe first, else in the order of the rules

private:
    [[nodiscard]] chain::Citation source_of(Note const& note) const;

    Limits const& limits_;
    Rule const* rule_ = nullptr;
    SetLimit const* set_ = nullptr;
    std::vector<Finding> findings_;
};

// --- words ---

[[nodiscard]] std::string figure(double value);                        // "63", "5.56", "29756"
[[nodiscard]] std::string named(std::vector<std::string> const& ids);  // "a, b, c and 9 more"
[[nodiscard]] Place at_point(AtPoint const& at);
[[nodiscard]] Place at_panel(plan::Panel const& panel);
[[nodiscard]] std::vector<Place> places_of(AtPoint const& at);  // the point and its panel

// One note a panel, with the points that `is_so` holds for; `words` are put behind their number.
void add_by_panel(Ground const& ground, Notes& notes, bool (*is_so)(AtPoint const& at),
                  std::string_view words);

}  // namespace phasewright::checks
