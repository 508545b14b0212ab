#include "core/chain/standard_burdens.hpp"

#include <algorithm>
#include <array>

namespace phasewright::chain {

namespace {
// IEEE C57.13, Table 9, from memory; every row was computed again from R and L and agrees. E-0.04 was read in
// the abstract of C57.13.6-2005, E-0.2 is from memory.
constexpr std::array table{StandardBurden{"B-0.1", 0.09, 0.116, 0.1, 2.5, 0.9},
                           StandardBurden{"B-0.2", 0.18, 0.232, 0.2, 5.0, 0.9},
                           StandardBurden{"B-0.5", 0.45, 0.580, 0.5, 12.5, 0.9},
                           StandardBurden{"B-0.9", 0.81, 1.04, 0.9, 22.5, 0.9},
                           StandardBurden{"B-1.8", 1.62, 2.08, 1.8, 45.0, 0.9},
                           StandardBurden{"B-1", 0.50, 2.3, 1.0, 25.0, 0.5},
                           StandardBurden{"B-2", 1.00, 4.6, 2.0, 50.0, 0.5},
                           StandardBurden{"B-4", 2.00, 9.2, 4.0, 100.0, 0.5},
                           StandardBurden{"B-8", 4.00, 18.4, 8.0, 200.0, 0.5},
                           StandardBurden{"E-0.04", 0.04, 0.0, 0.04, 1.0, 1.0, plan::Footing::seen},
                           StandardBurden{"E-0.2", 0.2, 0.0, 0.2, 5.0, 1.0}};
}  // namespace

std::span<StandardBurden const> standard_burdens() { return table; }

StandardBurden const* standard_burden_of(std::string_view name) {
    auto const* const found = std::ranges::find(table, name, &StandardBurden::name);
    return found == table.end() ? nullptr : found;
}

double burden_ohm(StandardBurden const& burden, double rated_a) {
    double const to_five = 5.0 / rated_a;
    return burden.z_ohm * to_five * to_five;
}

}  // namespace phasewright::chain
