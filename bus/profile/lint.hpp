// What a profile leaves open or says strangely, beyond what its loader refuses: each finding says what, why
// it matters and what to do.
#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "bus/profile/profile.hpp"

namespace phasewright::profile {

enum class LintSeverity {
    mend,  // readings, counts or settings would be wrong
    mind,  // worth knowing, or missing
};
[[nodiscard]] std::string_view name_of(LintSeverity severity);  // "mend"

struct LintFinding {
    LintSeverity severity = LintSeverity::mind;
    std::string what;  // a sentence without a full stop
    std::string why;
    std::string remedy;
    friend bool operator==(LintFinding const&, LintFinding const&) = default;
};

// The severe ones first.
[[nodiscard]] std::vector<LintFinding> lint(Profile const& profile);

}  // namespace phasewright::profile
