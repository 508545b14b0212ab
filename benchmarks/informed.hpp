// How good could the answer be if the engine knew how often each mistake is really made? The engine's own
// likelihood and classes, with its prior replaced by the world's. Where a mix was drawn with other odds than
// the engine's, the difference between the two rows is what its prior cost; what remains is what the readings
// do not tell, and what the likelihood gets wrong. It is a lower bound of the best that anybody could do in
// that world, not the best itself.
#pragma once
#include <cstddef>
#include <vector>

#include "benchmarks/mistakes.hpp"
#include "core/diagnosis/outlook.hpp"

namespace phasewright::benchmarks {

struct InformedAnswer {
    double probability = 0.0;  // of the first class
    std::vector<Landing> wirings;  // of the first class, likeliest first
};

class Informed {
   public:
    Informed(Meter const& meter, std::vector<Mistake> const& possible, Mix mix, bool stress_ratios);
    [[nodiscard]] InformedAnswer answer(readings::ReadingSet const& set) const;
    // The share of the world's cases whose wiring is not among the engine's hypotheses.
    [[nodiscard]] double unheard_of() const { return unheard_of_; }

   private:
    diagnosis::Outlook outlook_;
    double unheard_of_ = 0.0;
};

}  // namespace phasewright::benchmarks
