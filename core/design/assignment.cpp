#include "core/design/assignment.hpp"

#include <cmath>
#include <limits>

namespace phasewright::design {

namespace {
constexpr double infinite = std::numeric_limits<double>::infinity();
constexpr std::size_t none = static_cast<std::size_t>(-1);

// One row after another is let in; each time the shortest path of changes makes room for it.
class Search {
public:
    explicit Search(std::vector<std::vector<double>> const& cost)
        : cost_(cost),
          columns_(cost.front().size()),
          u_(cost.size(), 0.0),
          v_(columns_ + 1, 0.0),
          row_of_(columns_ + 1, none) {}

    void let_in(std::size_t row) {
        std::size_t const gate = columns_;
        row_of_[gate] = row;
        std::vector<double> least(columns_ + 1, infinite);
        std::vector<std::size_t> from(columns_ + 1, gate);
        std::vector<char> done(columns_ + 1, 0);
        std::size_t at = gate;
        while (row_of_[at] != none) {
            done[at] = 1;
            at = step(at, least, from, done);
        }
        while (at != gate) {
            row_of_[at] = row_of_[from[at]];
            at = from[at];
        }
    }
    [[nodiscard]] std::vector<std::size_t> const& row_of() const { return row_of_; }

private:
    std::size_t step(std::size_t at, std::vector<double>& least, std::vector<std::size_t>& from,
                     std::vector<char> const& done) {
        std::size_t const row = row_of_[at];
        double shortest = infinite;
        std::size_t next = none;
        for (std::size_t column = 0; column < columns_; ++column) {
            if (done[column] != 0) continue;
            double const reduced = cost_[row][column] - u_[row] - v_[column];
            if (reduced < least[column]) {
                least[column] = reduced;
                from[column] = at;
            }
            if (least[column] < shortest || next == none) {
                shortest = least[column];
                next = column;
            }
        }
        for (std::size_t column = 0; column <= columns_; ++column) {
            if (done[column] != 0) {
                u_[row_of_[column]] += shortest;
                v_[column] -= shortest;
            } else {
                least[column] -= shortest;
            }
        }
        return next;
    }

    std::vector<std::vector<double>> const& cost_;
    std::size_t columns_;
    std::vector<double> u_, v_;
    std::vector<std::size_t> row_of_;
};

// Forbidden pairs cost more than all allowed ones together, and there is a column to stay without for every
// row.
std::vector<std::vector<double>> with_way_out(std::vector<std::vector<double>> const& cost) {
    double dear = 1.0;
    for (auto const& row : cost) {
        double most = 0.0;
        for (double const one : row)
            if (std::isfinite(one)) most = std::max(most, one);
        dear += most;
    }
    auto whole = cost;
    for (auto& row : whole) {
        for (double& one : row)
            if (!std::isfinite(one)) one = 2.0 * dear;
        row.resize(row.size() + cost.size(), dear);
    }
    return whole;
}
}  // namespace

Assignment cheapest_assignment(std::vector<std::vector<double>> const& cost) {
    Assignment result;
    result.column_of.resize(cost.size());
    if (cost.empty() || cost.front().empty()) return result;
    auto const whole = with_way_out(cost);
    Search search(whole);
    for (std::size_t row = 0; row < whole.size(); ++row) search.let_in(row);
    for (std::size_t column = 0; column < cost.front().size(); ++column) {
        auto const row = search.row_of()[column];
        if (row == none || !std::isfinite(cost[row][column])) continue;
        result.column_of[row] = column;
        result.cost += cost[row][column];
    }
    return result;
}

}  // namespace phasewright::design
