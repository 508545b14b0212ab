#include "core/diagnosis/what_next_value.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace phasewright::diagnosis {

namespace {
constexpr double nothing = 1e-9;

// Room that is used again and again: the weight of every decision.
struct Sums {
    std::vector<double> by_decision;
    explicit Sums(std::vector<Weighted> const& possible) {
        std::size_t most = 0;
        for (auto const& one : possible) most = std::max(most, one.decision);
        by_decision.assign(most + 1, 0.0);
    }
};

// The weight of the pairs that an outcome leaves, times the outcome's chance: pairs(w c) / sum(w c).
double left_by(std::vector<Weighted> const& possible, std::vector<double> const& chance, Sums& sums) {
    std::ranges::fill(sums.by_decision, 0.0);
    double all = 0.0;
    for (std::size_t i = 0; i < possible.size(); ++i) {
        double const w = possible[i].weight * chance[i];
        sums.by_decision[possible[i].decision] += w;
        all += w;
    }
    if (all <= 0.0) return 0.0;
    double squares = 0.0;
    for (double const w : sums.by_decision) squares += w * w;
    return 0.5 * (all * all - squares) / all;
}

double pairs_of(std::vector<Weighted> const& possible, Sums& sums) {
    return left_by(possible, std::vector<double>(possible.size(), 1.0), sums);
}

double cut_by(std::vector<Weighted> const& possible, Askable const& test, double pairs, Sums& sums) {
    double left = 0.0;
    for (auto const& outcome : test.chance) left += left_by(possible, outcome, sums);
    return std::max(0.0, pairs - left);
}

double information_of(std::vector<Weighted> const& possible, Askable const& test) {
    double sum = 0.0;
    for (auto const& outcome : test.chance) {
        double const p = chance_of(possible, outcome);
        for (std::size_t i = 0; i < possible.size(); ++i)
            if (outcome[i] > 0.0 && p > 0.0)
                sum += possible[i].weight * outcome[i] * std::log(outcome[i] / p);
    }
    return std::max(0.0, sum);
}
}  // namespace

double chance_of(std::vector<Weighted> const& possible, std::vector<double> const& chance) {
    double sum = 0.0;
    for (std::size_t i = 0; i < possible.size(); ++i) sum += possible[i].weight * chance[i];
    return sum;
}

std::vector<Weighted> after(std::vector<Weighted> const& possible, std::vector<double> const& chance) {
    double const p = chance_of(possible, chance);
    auto left = possible;
    for (std::size_t i = 0; i < left.size(); ++i)
        left[i].weight = p > 0.0 ? left[i].weight * chance[i] / p : 0.0;
    return left;
}

std::vector<Worth> worth_of(std::vector<Weighted> const& possible, std::vector<Askable> const& tests,
                            int steps) {
    std::vector<Worth> worth(tests.size());
    if (possible.empty()) return worth;
    Sums sums(possible);
    double const pairs = pairs_of(possible, sums);
    std::vector<double> cut(tests.size());
    std::vector<std::size_t> order(tests.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    for (std::size_t t = 0; t < tests.size(); ++t) {
        cut[t] = cut_by(possible, tests[t], pairs, sums);
        worth[t].cut = pairs > 0.0 ? cut[t] / pairs : 0.0;
        worth[t].information = information_of(possible, tests[t]);
    }
    // Those that look best at once come first; of equal ones, those that tell most.
    std::ranges::stable_sort(order, [&](std::size_t one, std::size_t other) {
        auto const key = [&](std::size_t t) {
            return (cut[t] + 1e-3 * worth[t].information) / tests[t].cost;
        };
        return key(one) > key(other);
    });
    if (order.size() > tests_looked_into) order.resize(tests_looked_into);
    for (auto const t : order) {
        worth[t].score = cut[t] / tests[t].cost;
        if (steps < 2) continue;
        for (auto const& outcome : tests[t].chance) {
            double const p = chance_of(possible, outcome);
            if (p < nothing) continue;
            auto const left = after(possible, outcome);
            double const pairs_left = pairs_of(left, sums);
            double best = 0.0;
            for (auto const next : order)
                if (next != t)
                    best = std::max(best, cut_by(left, tests[next], pairs_left, sums) / tests[next].cost);
            worth[t].score += next_step_counts * p * best;
        }
    }
    return worth;
}

std::size_t best_of(std::vector<Worth> const& worth, std::vector<Askable> const& tests) {
    bool any = false;
    for (auto const& one : worth) any = any || one.score > nothing;
    std::size_t best = tests.size();
    double most = any ? nothing : 1e-6;
    for (std::size_t t = 0; t < tests.size(); ++t) {
        double const value = any ? worth[t].score : worth[t].information / tests[t].cost;
        if (value <= most) continue;
        most = value;
        best = t;
    }
    return best;
}

}  // namespace phasewright::diagnosis
