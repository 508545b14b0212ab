// Weighs the currents of one group of snapshots under every hypothesis at once.
// The density splits into an angle half, which depends on where taps and CTs land, and a size half, which depends on
// CTs and ratios; each half is computed once for each distinct case it has and looked up after that. Hypotheses that
// could not reach a billionth of the best, however well the currents fitted, are passed over.
#pragma once
#include <cstdint>
#include <unordered_map>
#include <vector>

#include "core/diagnosis/angle_halves.hpp"
#include "core/diagnosis/floating_star.hpp"
#include "core/diagnosis/size_halves.hpp"
#include "core/diagnosis/weighing.hpp"

namespace phasewright::diagnosis {

// What hypotheses weigh before a group is weighed: hypothesis h of pair n weighs of_pair[n] * of_hypothesis[h].
struct WeightsSoFar {
    std::vector<double> of_pair;
    std::vector<double> const& of_hypothesis;
    std::vector<double> const& largest;  // of of_hypothesis, one a pair
};

class GroupWeigher {
   public:
    // `best` is the best weight that any hypothesis has reached elsewhere, at another rotation.
    GroupWeigher(WeighingBasis const& basis, WeightsSoFar const& so_far, double best);

    // Adds share * density of each hypothesis to `density`, for pairs that matter; `touched` notes which.
    void add(LagVariant const& lags, double share, std::vector<double>& density, std::vector<bool>& touched);
    [[nodiscard]] double best() const { return best_; }

   private:
    [[nodiscard]] std::vector<double> derived_current_densities(LagVariant const& lags) const;
    [[nodiscard]] double of_neutral(AngleHalves const& angles, AngleClass const& one, std::uint32_t current, std::uint32_t ratio) const;
    [[nodiscard]] double of_return(LagVariant const& lags, std::uint32_t current, std::uint32_t ratio) const;
    void bound_kinds();

    WeighingBasis const basis_;
    WeightsSoFar const& so_far_;
    LoadGrid grid_;
    SizeHalves sizes_;
    std::vector<std::uint32_t> taps_by_weight_;
    std::array<double, kinds_of_class> bound_{};  // what the density of a class of each kind cannot pass
    std::optional<FloatingStar> star_;  // where the loads' star point stands, should the supply's neutral be broken
    bool has_neutral_ = false;  // its current was read
    bool must_close_ = false;  // three wires: the true currents sum to zero
    double best_ = 0.0;        // of weight times share times density, so far
};

}  // namespace phasewright::diagnosis
