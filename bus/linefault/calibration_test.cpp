// Do the probabilities come true? Thousands of lines are drawn and asked by a simulation written apart.
#include <doctest/doctest.h>

#include <map>

#include "bus/linefault/line_in_tests.hpp"
#include "bus/linefault/posterior.hpp"

namespace phasewright::linefault {

namespace {
// Faults of one place that bytes alone cannot tell apart: silence is silence.
NamedFault family_of(NamedFault const& fault) {
    switch (fault.kind) {
        case LineFault::crossed:
        case LineFault::broken:
            if (fault.after == 0) return {.kind = LineFault::supply_off};  // nobody answers at all
            return {.kind = LineFault::crossed, .after = fault.after};
        case LineFault::supply_off:
        case LineFault::wrong_format: return {.kind = LineFault::supply_off};
        case LineFault::device_dead:
        case LineFault::wrong_address:
        case LineFault::drop_crossed:
        case LineFault::device_wrong_format: return {.kind = LineFault::device_dead, .device = fault.device};
        default: return fault;
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
            if (p > most && !is_electrical(fault.kind)) {
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
        auto const is_first = [&](NamedFault const& fault) { return family_of(fault) == family_of(first); };
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
#ifdef NDEBUG
    constexpr int lines = 3000;
#else
    constexpr int lines = 800;  // checked at every step, a line takes thirty times as long
#endif
    auto const score = scored(lines, 1000);
    for (auto const& [bin, said] : score.bins)
        MESSAGE("said ", said.first / said.second, " over ", said.second, ", came true ",
                static_cast<double>(score.came_true.at(bin)) / said.second);
    MESSAGE("right first ", score.right_first, " of ", score.lines, ", calibration error ", score.calibration_error(),
            ", most that bytes gave one electrical fault ", score.most_electrical);
    CHECK(score.right_first > 0.85 * score.lines);
    CHECK(score.calibration_error() < 0.02);
    CHECK(score.came_true.at(9) > 0.95 * score.bins.at(9).second);  // said at 0.9 and more
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

TEST_CASE("a pattern that nothing here explains is hardly ever a confident verdict") {
    std::mt19937 dice(11);
    int confident = 0;
    for (int i = 0; i < 200; ++i) {
        Evidence evidence;
        for (std::size_t at = 0; at < 8; ++at)
            evidence.devices.push_back({.unit = static_cast<std::uint8_t>(at + 1), .name = {}, .position = static_cast<int>(at) + 1});
        for (int round = 0; round < 6; ++round)
            for (std::size_t at = 0; at < 8; ++at)
                evidence.tries.push_back({.device = at, .came = static_cast<Came>(dice() % kinds_of_came), .echoed = false});
        evidence.heard_before = false;  // the command listens first
        Posterior const posterior(evidence, true, {});
        for (auto const& [fault, p] : posterior.marginals()) {
            if (fault.kind == LineFault::something_else) continue;  // that is what it says: none of these
            confident += p >= 0.9 ? 1 : 0;
        }
    }
    MESSAGE("confident in ", confident, " of 200");
    CHECK(confident <= 4);
}

}  // namespace phasewright::linefault
