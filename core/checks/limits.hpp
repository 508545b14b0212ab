// What a user has set over the built-in limits, for the edition in force where the job is
// (docs/reference/plan-checks.md, "Your own limits"). A rule's number, where it stands written, and whether
// somebody has held it against that edition.
#pragma once
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/plan/conductor_size.hpp"

namespace phasewright::checks {

struct SetLimit {
    std::optional<double> value;            // empty: the built-in one stands
    std::string standard, edition, clause;  // empty: the built-in ones stand
    bool confirmed = false;
    friend bool operator==(SetLimit const&, SetLimit const&) = default;
};

// One row of a table of what a copper conductor carries.
struct Ampacity {
    plan::ConductorSize size;
    double amperes = 0.0;
    friend bool operator==(Ampacity const&, Ampacity const&) = default;
};

struct Limits {
    std::map<std::string, SetLimit, std::less<>> of_rule;  // by the rule's id
    std::vector<Ampacity> metric;  // in place of the built-in table for mm2; empty: that stands
    std::vector<Ampacity> awg;     // and for AWG and kcmil
    friend bool operator==(Limits const&, Limits const&) = default;
};

}  // namespace phasewright::checks
