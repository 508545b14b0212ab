// The instrument chain's uncertainty against numpy and scipy, which share nothing with this project: the law
// of propagation, the exact distribution of a sum of rectangular errors by Gil-Pelaez inversion, and a
// million draws of the exact formula by another generator.
#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <sstream>
#include <string>

#include "core/chain/drawn_accuracy.hpp"
#include "tests/journeys/process_in_tests.hpp"

using namespace phasewright;
using namespace phasewright::chain;

namespace {

struct Peer {
    double u = 0.0, point = 0.0, low = 0.0, high = 0.0, sd = 0.0;
};

Peer asked(std::array<double, 5> const& question) {
    std::vector<std::string> words{"/usr/bin/python3",
                                   PHASEWRIGHT_SOURCE_DIR "/tests/journeys/chain_peer.py"};
    for (double const number : question) words.push_back(std::to_string(number));
    journeys::Process process(words);
    auto const said = process.rest();
    std::istringstream in{said};
    std::array<std::string, 5> answer;
    for (auto& word : answer) in >> word;
    REQUIRE_MESSAGE(!answer[4].empty(),
                    "scipy did not answer: is the Debian package python3-scipy installed?");
    return {std::stod(answer[0]), std::stod(answer[1]), std::stod(answer[2]), std::stod(answer[3]),
            std::stod(answer[4])};
}

// A point whose limits are those of the question: class 0.5 at rated current, a meter of one limit
// everywhere.
PointChain chain_with(std::array<double, 5> const& question) {
    PointChain chain{.model = plan::model_of(plan::Service::four_wire_wye), .nominal = {230.0, 398.37, 50.0}};
    chain.ct = TransformerClass{.word = "own", .points = {{100.0, question[0], question[1]}}};
    chain.meter = MeterClass{.word = "own", .rows = {{.factor = FactorRow::all, .percent = question[2]}}};
    chain.ct_primary_a = 100.0;
    chain.ct_secondary = chain.input_rated = 5.0;
    chain.assumptions.correlation = question[4];
    return chain;
}

}  // namespace

TEST_CASE("budget and Monte Carlo of the chain agree with scipy's") {
    // Ratio %, minutes, meter %, power factor, correlation: the worked budget three ways, class 1 at 0.5, no
    // phase error.
    for (auto const& question : {std::array{0.5, 30.0, 0.6, 0.8, 1.0}, std::array{0.5, 30.0, 0.6, 0.8, 0.0},
                                 std::array{0.5, 30.0, 0.6, 0.8, 0.5}, std::array{1.0, 60.0, 1.0, 0.5, 1.0},
                                 std::array{0.2, 10.0, 0.2, 0.9, 0.0}}) {
        CAPTURE(question[0]);
        CAPTURE(question[3]);
        CAPTURE(question[4]);
        auto const peer = asked(question);
        auto const chain = chain_with(question);
        LoadPoint const load{1.0, 100.0, question[3], false};
        auto const budget = budget_at(chain, {&load, 1});
        auto const drawn = drawn_accuracy(chain, {&load, 1}, 20240301, 400'000);
        REQUIRE(budget.budget);
        REQUIRE(drawn.band);
        CHECK(budget.budget->u_percent == doctest::Approx(peer.u).epsilon(1e-6));
        CHECK(drawn.band->sd == doctest::Approx(peer.sd).epsilon(0.004));
        CHECK(drawn.band->low == doctest::Approx(peer.low).epsilon(0.008));
        CHECK(drawn.band->high == doctest::Approx(peer.high).epsilon(0.008));
        if (!std::isnan(peer.point)) CHECK(drawn.band->high == doctest::Approx(peer.point).epsilon(0.01));
    }
}
