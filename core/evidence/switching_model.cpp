#include "core/evidence/switching_model.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <numeric>

namespace phasewright::evidence {

namespace {
// A normal density with a thin floor under it: a load may do anything by itself.
double log_density(double x, double sigma, double odd, double width) {
    double const z = x / sigma;
    double const normal = std::exp(-0.5 * z * z) / (sigma * std::sqrt(2.0 * std::numbers::pi));
    return std::log((1.0 - odd) * normal + odd / width);
}
}  // namespace

Motion motion_of(SwitchedReadings const& readings, SwitchingSettings const& settings) {
    auto const before = scatter_of(readings.before_w);
    auto const during = scatter_of(readings.during_w);
    Motion motion{.before = before.mean, .during = during.mean};
    double around = before.mean;
    double drift = 0.0;
    double scatter = before.sd;
    if (!readings.after_w.empty()) {
        auto const after = scatter_of(readings.after_w);
        around = 0.5 * (before.mean + after.mean);
        drift = 0.5 * std::abs(after.mean - before.mean);
        scatter = std::max(scatter, after.sd);
    }
    motion.change = during.mean - around;
    double const size = std::max(std::abs(before.mean), std::abs(around));
    // Loads wander slowly: the mean of a few readings is hardly surer than one, so the whole scatter counts.
    // With one reading there is no scatter to be seen, and two per cent of the load stand for it.
    double const least = readings.before_w.size() > 1 ? 0.005 * size : 0.02 * size;
    motion.noise = std::sqrt(scatter * scatter + drift * drift + least * least +
                             settings.resolution_w * settings.resolution_w);
    double const nothing = std::hypot(settings.resolution_w, settings.floor_percent / 100.0 * size);
    double const width = 4.0 * std::max({size, std::abs(during.mean), 10.0 * motion.noise});
    motion.log_stayed = log_density(motion.change, motion.noise, settings.odd, width);
    motion.log_moved = log_density(motion.during, nothing, settings.odd, width);
    // No more can be seen than there was: a meter with less load than noise is neither for nor against.
    if (size < 3.0 * motion.noise) motion.log_moved = std::min(motion.log_moved, motion.log_stayed);
    if (size < 3.0 * nothing) motion.log_moved = motion.log_stayed;
    return motion;
}

std::vector<int> completed(std::vector<int> meter_of) {
    auto const n = static_cast<int>(meter_of.size());
    std::vector<int> circuit_at(meter_of.size(), no_meter);
    for (int c = 0; c < n; ++c)
        if (auto const m = meter_of[static_cast<std::size_t>(c)]; m >= 0)
            circuit_at[static_cast<std::size_t>(m)] = c;
    for (int c = 0; c < n; ++c) {
        auto& place = meter_of[static_cast<std::size_t>(c)];
        if (place != not_tested) continue;
        // Back along the chain that ends here: circuit d sits at c's meter, whose own circuit's meter is
        // taken by ...
        int at = c;
        while (circuit_at[static_cast<std::size_t>(at)] != no_meter)
            at = circuit_at[static_cast<std::size_t>(at)];
        place = at;  // its meter is the one that is left
        circuit_at[static_cast<std::size_t>(at)] = c;
    }
    return meter_of;
}

double log_prior(std::vector<int> const& complete, std::vector<SwitchedMeter> const& meters,
                 SwitchingSettings const& settings) {
    double log = 0.0;
    std::vector<bool> seen(complete.size());
    for (std::size_t start = 0; start < complete.size(); ++start) {
        if (seen[start]) continue;
        std::size_t at = start;
        double exchanges = 0.0;
        double near = 0.0;
        while (!seen[at]) {
            seen[at] = true;
            if (complete[at] < 0) {
                log += std::log(settings.not_metered);
                break;
            }
            auto const next = static_cast<std::size_t>(complete[at]);
            if (next != start && next != at) {
                ++exchanges;
                near += meters[at].panel == meters[next].panel ? 1.0 : 0.0;
            }
            at = next;
        }
        log += exchanges * std::log(settings.interchange) + near * std::log(settings.neighbour);
    }
    return log;
}

std::vector<Pairing> pairings_of(std::vector<std::size_t> const& tested,
                                 std::vector<std::vector<double>> const& gains,
                                 std::vector<SwitchedMeter> const& meters,
                                 SwitchingSettings const& settings) {
    struct Partial {
        std::vector<int> meter_of;
        double log = 0.0;
    };
    constexpr std::size_t most = 4000;  // the rest together weighs nothing that could be printed
    constexpr double least = 30.0;      // in nats below the best
    std::vector<Partial> open{{std::vector<int>(meters.size(), not_tested), 0.0}};
    auto const weight = [&](Partial const& one) {
        return one.log + log_prior(completed(one.meter_of), meters, settings);
    };
    for (std::size_t k = 0; k < tested.size(); ++k) {
        std::vector<std::pair<double, Partial>> next;
        for (auto const& partial : open)
            for (int m = no_meter; m < static_cast<int>(meters.size()); ++m) {
                if (m >= 0 && std::ranges::find(partial.meter_of, m) != partial.meter_of.end()) continue;
                auto one = partial;
                one.meter_of[tested[k]] = m;
                if (m >= 0) one.log += gains[k][static_cast<std::size_t>(m)];
                next.emplace_back(weight(one), std::move(one));
            }
        std::ranges::sort(next, std::greater{}, [](auto const& one) { return one.first; });
        open.clear();
        for (auto& [log, one] : next)
            if (open.size() < most && log > next.front().first - least) open.push_back(std::move(one));
    }
    std::vector<Pairing> pairings;
    double sum = 0.0;
    double const best = weight(open.front());
    for (auto const& one : open) {
        double const p = std::exp(weight(one) - best);
        pairings.push_back({completed(one.meter_of), p});
        sum += p;
    }
    for (auto& one : pairings) one.probability /= sum;
    return pairings;
}

}  // namespace phasewright::evidence
