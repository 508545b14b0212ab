// The assignment against every permutation, and against a worked example of the textbooks.
#include "core/design/assignment.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <limits>
#include <numeric>
#include <random>
#include <set>

using namespace phasewright::design;

namespace {
constexpr double never = std::numeric_limits<double>::infinity();

double by_every_permutation(std::vector<std::vector<double>> const& cost) {
    std::vector<std::size_t> columns(cost.front().size());
    std::iota(columns.begin(), columns.end(), std::size_t{0});
    double best = never;
    do {
        double sum = 0.0;
        for (std::size_t row = 0; row < cost.size(); ++row) sum += cost[row][columns[row]];
        best = std::min(best, sum);
    } while (std::ranges::next_permutation(columns).found);
    return best;
}
}  // namespace

TEST_CASE("a small table is assigned as by hand: 1 + 2 + 2") {
    // By hand: row 0 takes column 1 (1), row 1 column 0 (2), row 2 column 2 (2); every other way costs more.
    auto const found = cheapest_assignment({{4, 1, 3}, {2, 0, 5}, {3, 2, 2}});
    CHECK(found.cost == doctest::Approx(5.0));
    CHECK(found.column_of == std::vector<std::optional<std::size_t>>{1, 0, 2});
}

TEST_CASE("no permutation is cheaper, for four hundred drawn tables up to 6 by 7") {
    std::mt19937 dice(7);
    for (int k = 0; k < 400; ++k) {
        std::size_t const rows = 1 + dice() % 6;
        std::size_t const columns = rows + dice() % 2;
        std::vector<std::vector<double>> cost(rows, std::vector<double>(columns));
        for (auto& row : cost)
            for (auto& one : row) one = static_cast<double>(dice() % 20);
        auto const found = cheapest_assignment(cost);
        CHECK(found.cost == doctest::Approx(by_every_permutation(cost)));
        std::set<std::size_t> used;
        for (auto const& column : found.column_of) CHECK(used.insert(column.value()).second);
    }
}

TEST_CASE("forbidden pairs stay empty, and as many rows as possible find a place") {
    auto const found = cheapest_assignment({{never, 1.0}, {never, 5.0}, {2.0, never}});
    CHECK(found.column_of == std::vector<std::optional<std::size_t>>{1, std::nullopt, 0});
    CHECK(found.cost == doctest::Approx(3.0));
    // The cheap pair (0, 0) would leave row 1 without any column: two rows before a low price.
    auto const two = cheapest_assignment({{1.0, 50.0}, {1.0, never}});
    CHECK(two.column_of == std::vector<std::optional<std::size_t>>{1, 0});
}

TEST_CASE("an empty table has an empty answer") {
    CHECK(cheapest_assignment({}).column_of.empty());
    CHECK(cheapest_assignment({{}, {}}).column_of ==
          std::vector<std::optional<std::size_t>>{std::nullopt, std::nullopt});
}
