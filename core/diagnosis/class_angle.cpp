#include "core/diagnosis/class_angle.hpp"

#include <algorithm>
#include <array>

namespace phasewright::diagnosis {

namespace {
// Minutes at 1, 5, 20 and 100 % of the rated primary; 0: no limit there.
struct ClassRow {
    std::string_view name;
    std::array<double, 4> minutes;
};
constexpr std::array<double, 4> at_share{0.01, 0.05, 0.2, 1.0};
constexpr std::array rows{
    ClassRow{"0.1", {0.0, 15.0, 8.0, 5.0}},    ClassRow{"0.2", {0.0, 30.0, 15.0, 10.0}},
    ClassRow{"0.2S", {30.0, 15.0, 10.0, 10.0}}, ClassRow{"0.5", {0.0, 90.0, 45.0, 30.0}},
    ClassRow{"0.5S", {90.0, 45.0, 30.0, 30.0}}, ClassRow{"1", {0.0, 180.0, 90.0, 60.0}},
};
// Classes 3 and 5 have no limit of the phase at all.
constexpr double no_limit_deg = 4.0;
}  // namespace

double class_angle_deg(std::string_view ct_class, double share) {
    if (ct_class == "3" || ct_class == "5") return no_limit_deg;
    auto const found = std::ranges::find(rows, ct_class, &ClassRow::name);
    auto const& minutes = found == rows.end() ? rows[3].minutes : found->minutes;
    double limit = 0.0;
    for (std::size_t k = 0; k < at_share.size(); ++k)
        if (share >= at_share[k]) limit = minutes[k];
    return limit > 0.0 ? limit / 60.0 : no_limit_deg;
}

}  // namespace phasewright::diagnosis
