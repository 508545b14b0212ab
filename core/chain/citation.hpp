// Where a number stands written, and how well that is founded. A limit written down from memory judges
// nothing until a user has held it against the edition in force and said so.
#pragma once
#include <string>

#include "core/plan/region.hpp"

namespace phasewright::chain {

struct Citation {
    std::string standard;  // "IEC 61869-2"
    std::string edition;   // "2012"; empty: not said
    std::string clause;    // "5.6.201, Table 201"
    plan::Footing footing = plan::Footing::memory;
    bool confirmed = false;  // by the user, for the edition in force
    friend bool operator==(Citation const&, Citation const&) = default;
};

// Whether a limit may pass or fail something by itself.
[[nodiscard]] constexpr bool may_judge(Citation const& source) {
    return source.confirmed || source.footing != plan::Footing::memory;
}
[[nodiscard]] std::string words_of(Citation const& source);  // "IEC 61869-2:2012, 5.6.201, Table 201"

}  // namespace phasewright::chain
