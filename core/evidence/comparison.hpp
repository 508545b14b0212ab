// The meter beside a better instrument, on the same load at the same moments.
//   e_k = 100 (m_k - r_k) / r_k,   e = mean of e_k                       (docs/physics/evidence.md, equation
//   1)
// The scatter of e_k shrinks with their number, u = s / sqrt(n); the instrument's own error does not: it errs
// the same way every time, so its limit counts whole. What the last place of each display hides is
// rectangular. As-found (before anybody touched anything) and as-left are two measurements: they are kept
// apart, and never averaged. Assumes that each pair was read at one moment; a load that moves between the
// two readings shows as scatter.
#pragma once
#include <expected>
#include <optional>
#include <string>
#include <vector>

#include "core/evidence/instrument.hpp"
#include "core/evidence/judgement.hpp"

namespace phasewright::evidence {

enum class Condition { as_found, as_left };
[[nodiscard]] constexpr auto word_table(Condition) {
    return plan::Words<Condition, 2>{{{Condition::as_found, "as-found"}, {Condition::as_left, "as-left"}}};
}

struct Pair {
    double meter = 0.0;
    double reference = 0.0;  // same unit, same side
    std::string time;        // ISO 8601; may be empty
};

struct ComparisonTest {
    Condition condition = Condition::as_found;
    std::string time;  // of the test: 2026-11-25 or with an hour
    Instrument instrument;
    std::string unit = "W";
    double meter_last_place = 0.0;  // of the meter's display
    double power_factor = 1.0;      // of the load; for the phase error of the instrument
    std::vector<Pair> pairs;
};

struct Comparison {
    Condition condition = Condition::as_found;
    std::string time;
    double error_percent = 0.0;
    double registration_percent = 100.0;
    Uncertainty uncertainty;  // %
    Judgement judgement;
};
[[nodiscard]] std::expected<Comparison, quantity::Fault> compared(ComparisonTest const& test,
                                                                  AcceptanceLimit const& limit);

// Both, where both were made: what the work on the point changed.
struct FoundAndLeft {
    std::optional<Comparison> as_found, as_left;
    std::optional<double> change_percent;  // as-left less as-found
};
// A fault where two bear the same condition, or as-left is not later than as-found.
[[nodiscard]] std::expected<FoundAndLeft, quantity::Fault> kept_apart(std::vector<Comparison> comparisons);

}  // namespace phasewright::evidence
