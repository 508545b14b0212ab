// The meter tree and its sums. A point whose load also runs through another meter is that meter's child; a sum adds meters
// up and takes others away, and may be held against one meter that sees the same:
//   sum = sum over plus - sum over minus, compared with one point
// A point may stand under one parent only, and no chain of parents may lead back to where it began: energy would be its
// own part.
#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "core/plan/metering_point.hpp"

namespace phasewright::plan {

struct Sum {
    std::string id;  // unique among sums and points: other sums may use it
    std::string name;
    std::vector<std::string> plus;   // ids of points or of sums that stand before this one
    std::vector<std::string> minus;
    std::string compared_with;  // id of a point; empty: a meter that exists only as this sum
    friend bool operator==(Sum const&, Sum const&) = default;
};

// Ids of the points whose parent it is, in the order of the plan.
[[nodiscard]] std::vector<std::string> children_of(std::vector<MeteringPoint> const& points, std::string_view id);

// The ids of a chain of parents that leads back to its first, that first one not repeated; empty when there is none.
[[nodiscard]] std::vector<std::string> ring_of_parents(std::vector<MeteringPoint> const& points);

}  // namespace phasewright::plan
