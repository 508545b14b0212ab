// What every weighing of one group of snapshots needs and none changes.
#pragma once
#include "core/diagnosis/load_grid.hpp"
#include "core/diagnosis/observed.hpp"
#include "core/diagnosis/outlook.hpp"

namespace phasewright::diagnosis {

struct WeighingBasis {
    Outlook const& outlook;
    OutlookAt const& at;
    Observed const& observed;
    LoadGroup const& group;
    LoadModel const& load;
};

namespace weighing {
inline constexpr double any_angle = 1.0 / 360.0;
inline constexpr double field_outlier = 0.01;
inline constexpr double same_size_sigma = 0.02;  // two elements on one conductor: CT and meter classes
inline constexpr double same_angle_sigma_deg = 1.0;

[[nodiscard]] double same_angle_density(double off_deg);
[[nodiscard]] double same_size_density(double off_log);
[[nodiscard]] std::size_t element_of(WeighingBasis const& basis, std::size_t input);
// How far the lag of each element can be trusted; one more at the end for a current that follows from the others.
[[nodiscard]] std::vector<AngleTrust> trust_of(WeighingBasis const& basis);
}  // namespace weighing

}  // namespace phasewright::diagnosis
