// Do the probabilities come true? Thousands of lines are drawn and asked by a simulation written apart.
#include <doctest/doctest.h>

#include <map>

#include "bus/linefault/line_in_tests.hpp"
#include "bus/linefault/posterior.hpp"

namespace phasewright::linefault {

namespace {
// Faults that only a look or another question can tell apart: silence is silence.
LineFault family_of(LineFault kind) {
    switch (kind) {
        case LineFault::broken:
        case LineFault::crossed: return LineFault::crossed;
        case LineFault::device_dead:
        case LineFault::wrong_address:
        case LineFault::drop_crossed:
        case LineFault::device_wrong_format: return LineFault::device_dead;
        default: return kind;
    }
}

struct Score {
    int lines = 0, right_first = 0;
    std::map<int, std::pair<double, int>> bins;  // by tenth of the probability: sum of it, how many
    std::map<int, int> came_true;
    double most_electrical = 0.0;

    [[nodiscard]] double calibration_error() const {
        double error = 0.0;
        int all = 0;
        for (auto const& [bin, said] : bins) {
            error += std::abs(said.first - came_true.at(bin));
            all += said.second;
        }
        return error / all;
    }
};

Score scored(int lines, std::uint32_t seed) {
    Score score;
    for (int i = 0; i < lines; ++i) {
        DrawnLine line(seed + static_cast<std::uint32_t>(i));
        line.devices = static_cast<std::size_t>(3 + line.below(14));
        line.draw_faults({});
        auto const evidence = line.asked(5);
        Posterior const posterior(evidence, true, {});
        NamedFault first;
        double most = posterior.healthy();
        bool any = false;
        for (auto const& [fault, p] : posterior.marginals()) {
            if (is_electrical(fault.kind)) score.most_electrical = std::max(score.most_electrical, p);
            if (fault.device >= 0 && line.cut_off(fault.device)) continue;  // says nothing about itself
            if (p > most) {
                most = p;
                first = fault;
                any = true;
            }
            if (p < 0.02) continue;
            int const bin = std::min(9, static_cast<int>(10.0 * p));
            score.bins[bin].first += p;
            ++score.bins[bin].second;
            score.came_true[bin] += std::find(line.faults.begin(), line.faults.end(), fault) != line.faults.end() ? 1 : 0;
        }
        auto const is_first = [&](NamedFault const& fault) {
            return family_of(fault.kind) == family_of(first.kind) && fault.after == first.after && fault.device == first.device;
        };
        // What nobody can see in bytes does not count as a fault to be named.
        bool const visible = std::any_of(line.faults.begin(), line.faults.end(), [](NamedFault const& fault) {
            return !is_electrical(fault.kind);
        });
        if (!visible) continue;
        ++score.lines;
        score.right_first += any && std::any_of(line.faults.begin(), line.faults.end(), is_first) ? 1 : 0;
    }
    return score;
}
}  // namespace

TEST_CASE("over thousands of drawn lines the first suspicion is mostly right, and probabilities come true") {
    auto const score = scored(3000, 1000);
    for (auto const& [bin, said] : score.bins)
        MESSAGE("said ", said.first / said.second, " over ", said.second, ", came true ",
                static_cast<double>(score.came_true.at(bin)) / said.second);
    MESSAGE("right first ", score.right_first, " of ", score.lines, ", calibration error ", score.calibration_error(),
            ", most that bytes gave one electrical fault ", score.most_electrical);
    CHECK(score.right_first > 0.85 * score.lines);
    CHECK(score.calibration_error() < 0.05);
    // Bytes alone prove no terminator, polarization, common or disturbance.
    CHECK(score.most_electrical <= 0.5);
}

TEST_CASE("no bytes at all can take an electrical fault above one half") {
    std::mt19937 dice(5);
    for (int i = 0; i < 400; ++i) {
        Evidence evidence;
        auto const devices = 1 + dice() % 9;
        for (std::size_t at = 0; at < devices; ++at)
            evidence.devices.push_back({.unit = static_cast<std::uint8_t>(at + 1), .name = {}, .position = static_cast<int>(at) + 1});
        // Every mixture of what may come back, one kind more than the others.
        auto const favourite = dice() % kinds_of_came;
        auto const tries = 1 + dice() % 12;
        for (unsigned round = 0; round < tries; ++round)
            for (std::size_t at = 0; at < devices; ++at) {
                auto const came = dice() % 2 == 0 ? favourite : dice() % kinds_of_came;
                evidence.tries.push_back({.device = at, .came = static_cast<Came>(came), .echoed = dice() % 9 == 0});
            }
        Posterior const posterior(evidence, dice() % 2 == 0, {});
        for (auto const& [fault, p] : posterior.marginals())
            if (is_electrical(fault.kind)) CHECK(p <= 0.5);
    }
}

TEST_CASE("a pattern that nothing here explains is never a confident verdict") {
    std::mt19937 dice(11);
    for (int i = 0; i < 200; ++i) {
        Evidence evidence;
        for (std::size_t at = 0; at < 8; ++at)
            evidence.devices.push_back({.unit = static_cast<std::uint8_t>(at + 1), .name = {}, .position = static_cast<int>(at) + 1});
        for (int round = 0; round < 6; ++round)
            for (std::size_t at = 0; at < 8; ++at)
                evidence.tries.push_back({.device = at, .came = static_cast<Came>(dice() % kinds_of_came), .echoed = false});
        Posterior const posterior(evidence, true, {});
        for (auto const& [fault, p] : posterior.marginals()) {
            if (fault.kind == LineFault::something_else) continue;  // that is what it says: none of these
            CAPTURE(std::string(name_of(fault.kind)));
            CHECK(p < 0.8);
        }
    }
}

}  // namespace phasewright::linefault
