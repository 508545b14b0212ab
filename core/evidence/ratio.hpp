// The ratio on the wall, whatever the plate says: primary and secondary current at the same moment, by
// injection or by two clamps on a running load.
//   n = turns I_p / I_s,   deviation d = 100 (k_r I_s / (turns I_p) - 1)      (docs/physics/evidence.md,
//   equation 4)
// `turns`: how often the primary conductor goes through the window. d has the sign of a ratio error: positive
// where too much arrives. Clamps are good to one or two per cent: they tell one plate from another, a tap
// from another, a cable beside the window from one in it; they do not prove a class. An injection set with
// good instruments may.
#pragma once
#include <expected>
#include <optional>
#include <string>
#include <vector>

#include "core/evidence/instrument.hpp"
#include "core/evidence/judgement.hpp"
#include "core/quantity/quantity.hpp"

namespace phasewright::evidence {

struct CurrentPair {
    double primary_a = 0.0;
    double secondary = 0.0;  // A, or V for a voltage output
};
struct RatioTest {
    std::string time;
    bool by_injection = false;
    quantity::TransformerRatio plate;                // secondary in the unit of the readings
    std::vector<quantity::TransformerRatio> others;  // taps and plates that it may be instead
    double turns = 1.0;
    Instrument primary, secondary;
    std::vector<CurrentPair> pairs;
};

struct RatioCandidate {
    quantity::TransformerRatio ratio;
    double deviation_percent = 0.0;
    bool possible = false;  // within the uncertainty, and what a class lets it be wrong by
};
struct RatioResult {
    double factor = 1.0;                     // measured primary over secondary
    Uncertainty uncertainty;                 // %
    Judgement judgement;                     // of the plate
    std::vector<RatioCandidate> candidates;  // the plate first
    std::optional<double>
        share_of_conductors;  // "half": too little by a simple fraction, cables beside the window
};
[[nodiscard]] std::expected<RatioResult, quantity::Fault> ratio_tested(RatioTest const& test,
                                                                       AcceptanceLimit const& limit);

}  // namespace phasewright::evidence
