// Wirings that no reading in hand can separate, gathered by comparing what they predict.
// Two wirings are alike when, for every supply and every load, one predicts with the conductors renamed what the other
// predicts as they are; only renamings that keep the supply itself count (turns of a wye; mirrors too, where the
// rotation at the source is not known). Only fields that were read are compared. Load angles separate nothing here: a
// wiring that needs another kind of load stays another class, with its own probability. docs/physics/classes.md
#pragma once
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "core/diagnosis/landings.hpp"

namespace phasewright::diagnosis {

// Which fields the readings hold, so which predictions count.
struct FieldsInHand {
    bool line_volts = false;
    bool volt_angles = false;
    bool sequence = false;
    bool lags = true;        // signed: P and Q, or angles
    bool lag_sizes = false;  // only P or PF: the sign of Q is not known
    bool power_signs = true; // beside lag_sizes: the sign of P is known
    bool totals = false;     // only the meter's totals
    std::vector<bool> flowing;  // per element: above the floor
    std::optional<plan::Sequence> rotation;  // at the source, where it was told
    // What answers and load steps pin to conductors by name: predictions that no renaming may touch.
    std::function<std::vector<long long>(std::size_t hypothesis)> pinned;
};

// What a hypothesis predicts, as one number: equal for alike wirings, different otherwise.
// Equal for fields that separate the same things, but for `pinned`.
[[nodiscard]] std::string key_of(FieldsInHand const& fields);

class Fingerprints {
   public:
    // `kept` holds what was computed before for the same landings, supply and fields, 0 for what was not; it may be
    // empty, and grows.
    Fingerprints(Landings const& landings, plan::Nominal const& nominal, FieldsInHand const& fields,
                 std::vector<std::uint64_t>* kept = nullptr);
    [[nodiscard]] std::uint64_t of(std::size_t hypothesis) const;

   private:
    struct Probe {
        plan::SourcePhasors u;
        std::array<std::complex<double>, 3> j;  // by path
    };
    [[nodiscard]] std::uint64_t without_pins(std::size_t hypothesis) const;
    [[nodiscard]] std::uint64_t hash_of_prediction(std::size_t hypothesis, wiring::Seen const& seen, Probe const& probe,
                                                   std::uint64_t hash) const;

    Landings const& landings_;
    FieldsInHand fields_;
    std::vector<std::uint64_t>* kept_;
    std::vector<std::vector<Probe>> renamings_;  // per renaming: the same probes, renamed
};

struct HypothesisClass {
    double probability = 0.0;
    std::vector<std::size_t> members;  // most probable first
    bool as_planned = false;
    double harmless = 0.0;  // of the probability: wirings that are the plan itself but for the conductors' names
};

// The classes of all hypotheses that carry the listed share of the probability, most probable first. `complete`
// compares all fields that a meter could show: with few fields in hand a class may hold the plan and a mistake.
[[nodiscard]] std::vector<HypothesisClass> classes_of(Landings const& landings, std::vector<double> const& probability,
                                                      Fingerprints const& fingerprints, Fingerprints const& complete,
                                                      double listed_sum);

}  // namespace phasewright::diagnosis
