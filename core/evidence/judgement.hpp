// Pass, fail or not provable. A result near a limit proves nothing: the true value may lie on either side. So
// the acceptance interval is the limit less a guard band of the width of the expanded uncertainty, and a fail
// is claimed only beyond the limit plus that band (ISO/IEC Guide 98-4:2012, which is JCGM 106:2012,
// clauses 8.2 and 8.3.2, guarded acceptance and guarded rejection; clauses from memory).
//   pass          low + w <= y <= high - w
//   fail          y < low - w  or  y > high + w,   w = r U, r = 1 where nothing else is agreed
//   not provable  else
// The probability that the true value is within the limits, for a normal result (clause 7.3):
//   p = Phi((high - y) / u) - Phi((low - y) / u)
// A limit that is only remembered judges nothing until somebody has held it against the edition in force.
#pragma once
#include <optional>
#include <string>
#include <string_view>

#include "core/chain/citation.hpp"
#include "core/evidence/uncertain.hpp"
#include "core/plan/words.hpp"

namespace phasewright::evidence {

enum class Outcome { pass, fail, not_provable };
[[nodiscard]] constexpr auto word_table(Outcome) {
    return plan::Words<Outcome, 3>{
        {{Outcome::pass, "pass"}, {Outcome::fail, "fail"}, {Outcome::not_provable, "not-provable"}}};
}

struct AcceptanceLimit {
    std::string id;                   // "registration.in-service"
    std::string what;                 // "error of energy of a meter in service"
    std::string unit;                 // "%"
    std::optional<double> low, high;  // closed; empty: no limit on that side
    chain::Citation source;
    friend bool operator==(AcceptanceLimit const&, AcceptanceLimit const&) = default;
};

struct Judgement {
    Outcome outcome = Outcome::not_provable;
    std::string reason;  // one sentence without a full stop
    double value = 0.0;
    Uncertainty uncertainty;
    double guard = 0.0;
    std::optional<double> within;  // probability that the true value is within the limits
    AcceptanceLimit limit;
    std::optional<Outcome> by_the_numbers;  // what the limit would say if it were confirmed
};

[[nodiscard]] Judgement judged(double value, Uncertainty const& uncertainty, AcceptanceLimit const& limit,
                               double guard_share = 1.0);

// The same number, taken back to "not provable" for a reason that the arithmetic does not know.
[[nodiscard]] Judgement taken_back(Judgement judgement, std::string reason);

// "-2 % to +2 %", "at least 1 MOhm", "at most 1"
[[nodiscard]] std::string words_of(AcceptanceLimit const& limit);

}  // namespace phasewright::evidence
