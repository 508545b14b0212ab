// How much cable lies between two panels: the shortest way over the runs that the plan names, or, where those
// do not connect them, along the axes of the building between their places: |dx| + |dy| + |dz|, because cable
// goes along walls and shafts and not through the air (common practice, no source). Where neither is known
// there is no distance; none is guessed.
#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "core/plan/site.hpp"

namespace phasewright::design {

class Distances {
public:
    explicit Distances(plan::Site const& site);
    // 0 within one panel. Empty: not known.
    [[nodiscard]] std::optional<double> metres(std::string const& from, std::string const& to);

private:
    struct Way {
        std::size_t to = 0;
        double metres = 0.0;
    };
    [[nodiscard]] std::vector<double> const& over_runs(std::size_t from);

    std::unordered_map<std::string, std::size_t> index_;
    std::vector<std::optional<plan::PlaceInBuilding>> places_;
    std::vector<std::vector<Way>> ways_;
    std::unordered_map<std::size_t, std::vector<double>> known_;
};

}  // namespace phasewright::design
