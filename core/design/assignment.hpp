// The cheapest way to give every row a column of its own:
//   minimize  sum over rows i of cost[i][column of i],  no column twice
// solved exactly in O(rows^2 columns) by shortest augmenting paths with potentials (Kuhn 1955, Munkres 1957;
// the form with potentials is Jonker and Volgenant 1987). An infinite cost forbids a pair.
#pragma once
#include <cstddef>
#include <optional>
#include <vector>

namespace phasewright::design {

struct Assignment {
    std::vector<std::optional<std::size_t>> column_of;  // empty: a row that finds no allowed column
    double cost = 0.0;
};

// As many rows as possible find a column, and of those ways the cheapest. All rows have the same length;
// costs are not negative.
[[nodiscard]] Assignment cheapest_assignment(std::vector<std::vector<double>> const& cost);

}  // namespace phasewright::design
