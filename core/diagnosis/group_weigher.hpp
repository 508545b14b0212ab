// Weighs the currents of one group of snapshots under every hypothesis at once.
// The density splits into an angle half, which depends on where taps and CTs land, and a size half, which depends on
// CTs and ratios; each half is computed once for each distinct case it has and looked up after that.
#pragma once
#include <array>
#include <cstdint>
#include <vector>

#include "core/diagnosis/landings.hpp"
#include "core/diagnosis/load_model.hpp"
#include "core/diagnosis/observed.hpp"
#include "core/diagnosis/supply_model.hpp"

namespace phasewright::diagnosis {

// What every weighing needs and none changes.
struct WeighingBasis {
    Landings const& landings;
    Observed const& observed;
    LoadGroup const& group;
    LoadModel const& load;
    std::vector<TapView> const& views;  // one a distinct tap landing
    plan::SourcePhasors const& u;
};

class GroupWeigher {
   public:
    explicit GroupWeigher(WeighingBasis const& basis);

    // Adds weight * density of each hypothesis to `density`. `alive[h]` false: the hypothesis is already impossible.
    void add(LagVariant const& lags, double weight, std::vector<bool> const& alive, std::vector<double>& density);

   private:
    struct AngleHalf {
        std::vector<double> per_shape;
        PathLags lag_deg;
    };
    struct SizeHalf {
        std::vector<double> per_shape;
        PathSizes log_amps;
    };
    [[nodiscard]] std::uint32_t angle_key(std::uint32_t tap, CurrentLanding const& current) const;
    AngleHalf const& angle_half(std::uint32_t tap, std::uint32_t current, LagVariant const& lags);
    SizeHalf const& size_half(std::uint32_t current, std::uint32_t ratio);
    [[nodiscard]] AngleHalf make_angle_half(std::uint32_t tap, CurrentLanding const& current, LagVariant const& lags) const;
    [[nodiscard]] SizeHalf make_size_half(CurrentLanding const& current, RatioSetting const& ratio) const;
    void weigh_totals(std::uint32_t tap, CurrentLanding const& current, AngleHalf& half) const;
    [[nodiscard]] double joined(AngleHalf const& angles, SizeHalf const& sizes) const;
    [[nodiscard]] std::vector<double> derived_current_densities(LagVariant const& lags) const;
    [[nodiscard]] PathTrust trust_by_path(CurrentLanding const& current) const;

    WeighingBasis basis_;
    std::array<int, 3> element_of_input_{-1, -1, -1};
    std::array<double, 3> path_angle_deg_{};
    bool must_close_ = false;  // three wires: the true currents sum to zero
    // Per tap landing, input, path and sense: how many steps of 30 degrees turn the element's lag into the path's.
    std::vector<std::array<std::array<std::array<std::uint8_t, 2>, 3>, 3>> steps_;
    std::vector<std::int32_t> angle_index_;  // by angle key; -1: not made yet
    std::vector<AngleHalf> angle_halves_;
    std::vector<std::int32_t> size_index_;   // by current landing and ratio; -1: not made yet
    std::vector<SizeHalf> size_halves_;
};

}  // namespace phasewright::diagnosis
