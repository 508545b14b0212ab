#include "core/evidence/ratio.hpp"

#include <array>
#include <cmath>

#include "core/chain/uncertainty.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::evidence {

namespace {
using quantity::Fault;
using quantity::TransformerRatio;

double deviation(double factor, TransformerRatio const& ratio) {
    return 100.0 * (ratio.factor() / factor - 1.0);
}

// 1/2, 1/3, 2/3, 1/4, 3/4: what arrives when some of the parallel cables pass beside the window.
std::optional<double> simple_share(double share, double u) {
    for (double const one : std::array{1.0 / 2, 1.0 / 3, 2.0 / 3, 1.0 / 4, 3.0 / 4})
        if (std::abs(share / one - 1.0) <= u) return one;
    return std::nullopt;
}
}  // namespace

std::expected<RatioResult, Fault> ratio_tested(RatioTest const& test, AcceptanceLimit const& limit) {
    if (test.pairs.empty())
        return std::unexpected(
            Fault{"a ratio test has no readings", "pairs", "", "currents of both sides", ""});
    bool const is_ratio = test.plate.primary > 0.0 && test.plate.secondary > 0.0 && test.turns > 0.0;
    if (!is_ratio)
        return std::unexpected(Fault{"the plate's ratio is none", "plate", "", "two numbers above 0", ""});
    std::vector<double> logs;
    double of_primary = 0.0;
    double of_secondary = 0.0;
    auto const n = static_cast<double>(test.pairs.size());
    for (auto const& pair : test.pairs) {
        bool const both = pair.primary_a > 0.0 && pair.secondary > 0.0;
        if (!both)
            return std::unexpected(Fault{"a current of a pair is nothing", "pairs",
                                         quantity::shortest(pair.secondary), "above 0",
                                         "more load; a loop without current may be open: stop"});
        auto const primary = limit_at(test.primary.accuracy, pair.primary_a);
        auto const secondary = limit_at(test.secondary.accuracy, pair.secondary);
        if (!primary) return std::unexpected(primary.error());
        if (!secondary) return std::unexpected(secondary.error());
        of_primary += 100.0 * *primary / pair.primary_a / n;
        of_secondary += 100.0 * *secondary / pair.secondary / n;
        logs.push_back(100.0 * std::log(test.turns * pair.primary_a / pair.secondary));
    }
    auto const scatter = scatter_of(logs);
    RatioResult result{.factor = std::exp(scatter.mean / 100.0)};
    std::vector<Share> parts{
        {"instrument on the primary", chain::u_of_rectangular(of_primary), std::nullopt},
        {"instrument on the secondary", chain::u_of_rectangular(of_secondary), std::nullopt}};
    if (scatter.degrees > 0.0)
        parts.push_back({"scatter of the readings", scatter.u_of_mean, scatter.degrees});
    result.uncertainty = uncertainty_of(std::move(parts));
    double const d = deviation(result.factor, test.plate);
    result.judgement = judged(d, result.uncertainty, limit);
    for (auto const* instrument : {&test.primary, &test.secondary})
        if (auto const doubt = calibration_doubt(*instrument, test.time))
            result.judgement = taken_back(result.judgement, *doubt);
    double const room = result.uncertainty.expanded + limit.high.value_or(0.0);
    result.candidates.push_back({test.plate, d, std::abs(d) <= room});
    for (auto const& other : test.others) {
        double const away = deviation(result.factor, other);
        result.candidates.push_back({other, away, std::abs(away) <= room});
    }
    result.share_of_conductors = simple_share(1.0 + d / 100.0, room / 100.0);
    return result;
}

}  // namespace phasewright::evidence
