// What is held against a result: limits as data, each with where it stands written and how well that is
// known. docs/reference/acceptance-limits.md has them all; a user's file replaces them and confirms them for
// the edition in force. Nothing here that is from memory passes or fails a point by itself.
//
// Weighted average registration: a meter that is right at full load and slow at light load has no single
// error. Trades weigh the loads differently (from memory, and by the rules of the place):
//   four-to-one  (4 FL + LL) / 5      even  (FL + LL) / 2      seventy-thirty  0.7 FL + 0.3 LL
//   seventy-five 0.75 FL + 0.25 LL;  FL and LL: registration in % at full and at light load
#pragma once
#include <span>
#include <string_view>
#include <vector>

#include "core/evidence/judgement.hpp"

namespace phasewright::evidence {

[[nodiscard]] std::vector<AcceptanceLimit> built_in_limits();

class AcceptanceLimits {  // ids are unique
public:
    AcceptanceLimits() : all_(built_in_limits()) {}
    [[nodiscard]] std::span<AcceptanceLimit const> all() const { return all_; }
    [[nodiscard]] AcceptanceLimit const* find(std::string_view id) const;
    void set(AcceptanceLimit limit);  // in place of the one with its id, or beside the others

private:
    std::vector<AcceptanceLimit> all_;
};

enum class Weighting { four_to_one, even, seventy_thirty, seventy_five };
[[nodiscard]] constexpr auto word_table(Weighting) {
    return plan::Words<Weighting, 4>{{{Weighting::four_to_one, "four-to-one"},
                                      {Weighting::even, "even"},
                                      {Weighting::seventy_thirty, "seventy-thirty"},
                                      {Weighting::seventy_five, "seventy-five"}}};
}
[[nodiscard]] double full_load_weight(Weighting weighting);
[[nodiscard]] chain::Citation source_of(Weighting weighting);

struct AtTwoLoads {
    double full_percent = 100.0, light_percent = 100.0;  // registration
    double u_full = 0.0, u_light = 0.0;                  // standard uncertainties, %
    bool same_instrument = true;  // then its error is common to both, and does not average out
};
struct WeightedRegistration {
    double percent = 100.0;
    Uncertainty uncertainty;
    chain::Citation source;
};
[[nodiscard]] WeightedRegistration weighted(AtTwoLoads const& loads, Weighting weighting);

}  // namespace phasewright::evidence
