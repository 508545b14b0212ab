// A rule of the checks as data: what it is called, how much it weighs, what number it holds something against
// and where that number stands written; and the one function that goes through the plan with it. The
// reference page is written from these tables (docs/reference/plan-checks.md), so what is printed there is
// what is done.
#pragma once
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/checks/finding.hpp"
#include "core/checks/ground.hpp"
#include "core/plan/region.hpp"

namespace phasewright::checks {

class Notes;

struct RuleLimit {
    double value = 0.0;
    std::string_view unit;
    std::string_view words;  // what the number is: "of the run in front of the fuse, at most"
};

struct RuleSource {
    std::string_view standard, edition, clause;
    plan::Footing footing = plan::Footing::memory;
};

struct Rule {
    std::string_view id;     // "tap.breaking"
    std::string_view title;  // what it finds
    Severity severity = Severity::mend;
    std::optional<RuleLimit> limit;  // a user may set another
    RuleSource source;
    std::string_view remedy;
    std::string_view caution;  // needed where the severity is stop
    void (*look)(Ground const& ground, Notes& notes) = nullptr;
};

struct Subject {
    std::string_view title;
    std::span<Rule const> rules;
};
[[nodiscard]] std::vector<Subject> const& subjects();  // in the order of the page
[[nodiscard]] Rule const* rule_named(std::string_view id);

// The tables, one a subject.
[[nodiscard]] std::span<Rule const> completeness_rules();
[[nodiscard]] std::span<Rule const> service_rules();
[[nodiscard]] std::span<Rule const> voltage_rules();
[[nodiscard]] std::span<Rule const> tap_rules();
[[nodiscard]] std::span<Rule const> terminal_rules();
[[nodiscard]] std::span<Rule const> transformer_rules();
[[nodiscard]] std::span<Rule const> burden_rules();
[[nodiscard]] std::span<Rule const> environment_rules();
[[nodiscard]] std::span<Rule const> supply_rules();
[[nodiscard]] std::span<Rule const> ground_loop_rules();
[[nodiscard]] std::span<Rule const> line_rules();
[[nodiscard]] std::span<Rule const> address_rules();
[[nodiscard]] std::span<Rule const> panel_rules();
[[nodiscard]] std::span<Rule const> colour_rules();
[[nodiscard]] std::span<Rule const> tree_rules();

}  // namespace phasewright::checks
