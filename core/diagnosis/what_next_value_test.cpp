#include "core/diagnosis/what_next_value.hpp"

#include <doctest/doctest.h>

using namespace phasewright::diagnosis;

TEST_CASE("a test that separates two decisions cuts their whole weight, and chance alone cuts nothing") {
    std::vector<Weighted> const possible{{0.5, 0}, {0.5, 1}};
    Askable const sure{1.0, {{1.0, 0.0}, {0.0, 1.0}}};
    Askable const coin{1.0, {{0.5, 0.5}, {0.5, 0.5}}};
    auto const worth = worth_of(possible, {sure, coin}, 1);
    CHECK(worth[0].cut == doctest::Approx(1.0));
    CHECK(worth[1].cut == doctest::Approx(0.0));
    CHECK(best_of(worth, {sure, coin}) == 0);
}

TEST_CASE("possibilities that need the same decision need not be told apart") {
    std::vector<Weighted> const possible{{0.4, 7}, {0.4, 7}, {0.2, 2}};
    Askable const between_alike{1.0, {{1.0, 0.0, 0.5}, {0.0, 1.0, 0.5}}};
    Askable const between_decisions{1.0, {{1.0, 1.0, 0.0}, {0.0, 0.0, 1.0}}};
    auto const worth = worth_of(possible, {between_alike, between_decisions}, 1);
    CHECK(worth[0].cut < 0.05);
    CHECK(worth[1].cut == doctest::Approx(1.0));
}

TEST_CASE("of two tests that tell the same, the cheaper one is made") {
    std::vector<Weighted> const possible{{0.6, 0}, {0.4, 1}};
    std::vector<std::vector<double>> const chance{{0.99, 0.01}, {0.01, 0.99}};
    std::vector<Askable> const tests{{6.0, chance}, {2.0, chance}};
    CHECK(best_of(worth_of(possible, tests), tests) == 1);
}

TEST_CASE(
    "two steps find the pair of tests of which neither tells anything alone; one step takes the weak one") {
    // The decision is whether two unknown bits differ; the third test is a weak hint at once.
    std::vector<Weighted> const possible{{0.25, 0}, {0.25, 1}, {0.25, 1}, {0.25, 0}};
    std::vector<Askable> const tests{
        {1.0, {{1, 1, 0, 0}, {0, 0, 1, 1}}},                          // the first bit
        {1.0, {{1, 0, 1, 0}, {0, 1, 0, 1}}},                          // the second bit
        {1.0, {{0.65, 0.35, 0.35, 0.65}, {0.35, 0.65, 0.65, 0.35}}},  // a hint at whether they differ
    };
    auto const greedy = worth_of(possible, tests, 1);
    CHECK(greedy[0].cut == doctest::Approx(0.0));
    CHECK(best_of(greedy, tests) == 2);
    auto const ahead = worth_of(possible, tests, 2);
    CHECK(best_of(ahead, tests) < 2);
    CHECK(ahead[0].score > ahead[2].score);
}

TEST_CASE(
    "where every possibility needs the same decision, what tells most is taken; nothing is taken when "
    "nothing tells") {
    std::vector<Weighted> const possible{{0.5, 3}, {0.5, 3}};
    std::vector<Askable> const tests{{1.0, {{0.5, 0.5}, {0.5, 0.5}}}, {1.0, {{1.0, 0.0}, {0.0, 1.0}}}};
    CHECK(best_of(worth_of(possible, tests), tests) == 1);
    std::vector<Askable> const useless{{1.0, {{0.5, 0.5}, {0.5, 0.5}}}};
    CHECK(best_of(worth_of(possible, useless), useless) == useless.size());
}
