// Orders of a line against every permutation, and against places whose shortest chain can be seen.
#include "core/design/chain_order.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <random>

using namespace phasewright::design;

namespace {
Matrix drawn(std::mt19937& dice, std::size_t stops) {
    std::vector<std::pair<double, double>> places(stops + 1);
    for (auto& [x, y] : places) {
        x = static_cast<double>(dice() % 1000) / 10.0;
        y = static_cast<double>(dice() % 1000) / 10.0;
    }
    Matrix metres(stops + 1, std::vector<double>(stops + 1, 0.0));
    for (std::size_t i = 0; i <= stops; ++i)
        for (std::size_t j = 0; j <= stops; ++j)
            metres[i][j] =
                std::abs(places[i].first - places[j].first) + std::abs(places[i].second - places[j].second);
    return metres;
}
std::vector<std::size_t> in_turn(std::size_t stops) {
    std::vector<std::size_t> order(stops);
    std::iota(order.begin(), order.end(), std::size_t{1});
    return order;
}
double by_every_order(Matrix const& metres) {
    auto order = in_turn(metres.size() - 1);
    double best = length_of(metres, order);
    while (std::ranges::next_permutation(order).found) best = std::min(best, length_of(metres, order));
    return best;
}
bool visits_each_once(Chain const& chain, std::size_t stops) {
    auto sorted = chain.stops;
    std::ranges::sort(sorted);
    return sorted == in_turn(stops);
}
}  // namespace

TEST_CASE("floors of a riser are visited one after the other: 4 + 3 + 3 m, where a star would need 21 m") {
    // head at 0 m, panels at 7, 4 and 10 m up the shaft
    Matrix const metres{{0, 7, 4, 10}, {7, 0, 3, 3}, {4, 3, 0, 6}, {10, 3, 6, 0}};
    auto const chain = shortest_chain(metres);
    CHECK(chain.stops == std::vector<std::size_t>{2, 1, 3});
    CHECK(chain.length_m == doctest::Approx(10.0));
    CHECK(chain.exact);
    CHECK(star_length(metres) == doctest::Approx(21.0));
}

TEST_CASE("the exact chain is the shortest of all orders, for sixty drawn buildings of up to seven panels") {
    std::mt19937 dice(11);
    for (int k = 0; k < 60; ++k) {
        auto const metres = drawn(dice, 1 + dice() % 7);
        auto const chain = exact_chain(metres);
        CHECK(visits_each_once(chain, metres.size() - 1));
        CHECK(chain.length_m == doctest::Approx(by_every_order(metres)));
        CHECK(length_of(metres, chain.stops) == doctest::Approx(chain.length_m));
    }
}

TEST_CASE(
    "the improved chain is never shorter than the exact one, and within 5 % of it in nine of ten of drawn "
    "buildings") {
    std::mt19937 dice(23);
    int near = 0;
    for (int k = 0; k < 60; ++k) {
        std::size_t const stops = 5 + dice() % 8;
        auto const metres = drawn(dice, stops);
        auto const improved = improved_chain(metres);
        auto const exact = exact_chain(metres);
        CHECK(visits_each_once(improved, stops));
        CHECK(improved.length_m >= exact.length_m - 1e-9);
        near += improved.length_m <= 1.05 * exact.length_m ? 1 : 0;
    }
    CHECK(near >= 54);
}

TEST_CASE(
    "sixty panels along one corridor are found in their order although that is too many for every subset") {
    Matrix metres(61, std::vector<double>(61));
    // panel k stands at (37 k mod 61) times 2 m: all places from 2 to 120 m, shuffled
    auto const place = [](std::size_t k) { return 2.0 * static_cast<double>(37 * k % 61); };
    for (std::size_t i = 0; i <= 60; ++i)
        for (std::size_t j = 0; j <= 60; ++j) metres[i][j] = std::abs(place(i) - place(j));
    auto const chain = shortest_chain(metres);
    CHECK_FALSE(chain.exact);
    CHECK(chain.length_m == doctest::Approx(120.0));
}

TEST_CASE(
    "a chain of 40 unit loads becomes two lines of at most 32, cut where the way back to the head is short") {
    // head at 0; stops at 10, 20 and 100, 110 m; loads 10 each: 4 x 10 = 40. Cut after 20 m: 20 + 110 = 130
    // m; after 10 m: 10 + 110 = 120 m; after 100 m: 100 + 110 m. So {10}, {20, 100, 110}.
    std::vector<double> const place{0, 10, 20, 100, 110};
    Matrix metres(5, std::vector<double>(5));
    for (std::size_t i = 0; i < 5; ++i)
        for (std::size_t j = 0; j < 5; ++j) metres[i][j] = std::abs(place[i] - place[j]);
    auto const cuts = cut_into_lines(metres, {1, 2, 3, 4}, {{0.0}, {10.0}, {10.0}, {10.0}, {10.0}}, {});
    CHECK(cuts.possible);
    CHECK(cuts.lines == std::vector<std::vector<std::size_t>>{{1}, {2, 3, 4}});
    CHECK(cuts.length_m == doctest::Approx(120.0));
}

TEST_CASE("cuts are the cheapest of all cuts, for drawn chains") {
    std::mt19937 dice(5);
    for (int k = 0; k < 100; ++k) {
        std::size_t const n = 1 + dice() % 8;
        auto const metres = drawn(dice, n);
        std::vector<StopLoad> load(n + 1);
        for (auto& one : load)
            one = {static_cast<double>(1 + dice() % 12), 1 + static_cast<int>(dice() % 3),
                   4 + static_cast<int>(dice() % 5)};
        LineLimits const limits{.most_load = 20.0, .most_m = 250.0};
        double best = 1e30;
        for (std::size_t mask = 0; mask < std::size_t{1} << (n - 1);
             ++mask) {  // bit j: a cut after stop j + 1
            double length = 0.0;
            double line_m = 0.0;
            double carried = 0.0;
            int devices = 0;
            int most = 247;
            bool good = true;
            for (std::size_t stop = 1; stop <= n; ++stop) {
                bool const begins = stop == 1 || (mask >> (stop - 2) & 1U) != 0;
                line_m = begins ? metres[0][stop] : line_m + metres[stop - 1][stop];
                carried = begins ? load[stop].loads : carried + load[stop].loads;
                devices = begins ? load[stop].devices : devices + load[stop].devices;
                most = begins ? load[stop].most_devices : std::min(most, load[stop].most_devices);
                length += begins ? metres[0][stop] : metres[stop - 1][stop];
                good = good && line_m <= limits.most_m && carried <= limits.most_load && devices <= most;
            }
            if (good) best = std::min(best, length);
        }
        auto const cuts = cut_into_lines(metres, in_turn(n), load, limits);
        REQUIRE(cuts.possible);
        CHECK(cuts.length_m == doctest::Approx(best));
    }
}

TEST_CASE("a stop that breaks the limit by itself is said, not lost") {
    Matrix const metres{{0, 1500}, {1500, 0}};
    auto const cuts = cut_into_lines(metres, {1}, {{0.0}, {1.0}}, {});
    CHECK_FALSE(cuts.possible);
    CHECK(cuts.lines.size() == 1);
}

TEST_CASE("a line without stops has no length") {
    CHECK(shortest_chain({{0.0}}).stops.empty());
    CHECK(shortest_chain({}).stops.empty());
}
