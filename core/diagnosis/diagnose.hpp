// The door of the heart: one reading set in, one verdict out. Pure: no clock, no dice, no files.
#pragma once
#include <cstdint>
#include <map>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "core/diagnosis/outlook.hpp"
#include "core/diagnosis/priors.hpp"
#include "core/diagnosis/verdict.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::diagnosis {

// Assumes that `set` passed readings::check; what is wrong on the site comes back as findings, never as a fault.
[[nodiscard]] Verdict diagnose(readings::ReadingSet const& set);

// Looking for the next test takes longer than the diagnosis: who only wants the verdict leaves it out.
enum class Asking : std::uint8_t { next_test_too, verdict_only };

// The same for many sets: the wirings of a service are enumerated once. The verdicts do not depend on the order.
class Diagnoser {
   public:
    Diagnoser() : Diagnoser(built_in_sets()) {}
    explicit Diagnoser(PriorSets sets) : sets_(std::move(sets)) {}
    [[nodiscard]] Verdict diagnose(readings::ReadingSet const& as_sent, Asking asking = Asking::next_test_too);

   private:
    // The hypotheses of a service at a nominal supply, and what each of them looks like by the fields in hand.
    struct Known {
        Outlook outlook;
        std::map<std::string, std::vector<std::uint64_t>> fingerprints;
    };
    [[nodiscard]] Known& known_for(readings::ReadingSet const& set, plan::ServiceModel const& model);
    PriorSets sets_;
    std::map<std::string, std::unique_ptr<Known>> known_;
};

}  // namespace phasewright::diagnosis
