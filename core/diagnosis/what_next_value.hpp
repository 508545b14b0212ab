// What a test is worth, as arithmetic on tables: how much of the weight of pairs with different decisions it
// is expected to cut (EC2: Golovin, Krause, Ray, arXiv 1010.3091), per unit of its cost, with a look at the
// best test after it.
//     pairs(w) = 1/2 [ (sum w)^2 - sum over decisions (sum w of that decision)^2 ]
//     cut(t)   = pairs(w) - sum over outcomes P(o) pairs(w given o)
//     score(t) = cut(t) / cost(t) + discount * sum over outcomes P(o) max over t' of cut(t' given o) /
//     cost(t')
// Weights are renormalised after every outcome, so a test whose outcome is mere chance is worth nothing. A
// first test that cuts nothing may still make the second one useful; looking two steps ahead finds it,
// looking one does not.
#pragma once
#include <cstddef>
#include <vector>

namespace phasewright::diagnosis {

// What may be true: its probability, and what would be done about it.
struct Weighted {
    double weight = 0.0;
    std::size_t decision = 0;
};

// One possible test: chance[o][i] is how probable outcome o is, if possibility i is true.
struct Askable {
    double cost = 1.0;
    std::vector<std::vector<double>> chance;
};

struct Worth {
    double cut = 0.0;          // share of the pairs, 0 to 1
    double information = 0.0;  // expected, nats over the possibilities
    double score = 0.0;        // with the look ahead; 0 for tests that were not looked into
};

inline constexpr double next_step_counts = 0.8;
inline constexpr std::size_t tests_looked_into = 30;

// One entry a test. `steps` is 1 (greedy) or 2.
[[nodiscard]] std::vector<Worth> worth_of(std::vector<Weighted> const& possible,
                                          std::vector<Askable> const& tests, int steps = 2);

// The index of the test to make: the best score; where no test cuts any pair, the most information for its
// cost; tests.size() when there is none.
[[nodiscard]] std::size_t best_of(std::vector<Worth> const& worth, std::vector<Askable> const& tests);

// Probability of an outcome, and of every possibility after it.
[[nodiscard]] double chance_of(std::vector<Weighted> const& possible, std::vector<double> const& chance);
[[nodiscard]] std::vector<Weighted> after(std::vector<Weighted> const& possible,
                                          std::vector<double> const& chance);

}  // namespace phasewright::diagnosis
