#include "core/evidence/comparison.hpp"

#include <cmath>
#include <numeric>

#include "core/chain/uncertainty.hpp"
#include "core/quantity/text.hpp"
#include "core/readings/check.hpp"

namespace phasewright::evidence {

namespace {
using quantity::Fault;

std::optional<double> moment_of(std::string const& time) {
    return readings::seconds_of(time.size() == 10 ? time + "T00:00:00Z" : time);
}
}  // namespace

std::expected<Comparison, Fault> compared(ComparisonTest const& test, AcceptanceLimit const& limit) {
    if (test.pairs.empty())
        return std::unexpected(Fault{"a comparison has no readings", "pairs", "", "pairs of readings", ""});
    bool const is_factor =
        test.power_factor > 0.0 && test.power_factor <= 1.0;  // not so for a number that is none
    if (!is_factor)
        return std::unexpected(Fault{"the power factor is none", "power_factor",
                                     quantity::shortest(test.power_factor), "above 0, at most 1", ""});
    std::vector<double> errors;
    std::vector<double> limits;
    double hidden = 0.0;
    for (auto const& pair : test.pairs) {
        if (pair.reference == 0.0)
            return std::unexpected(Fault{"the reference shows nothing", "pairs", "0",
                                         "a load that both can read", "switch a load on and read again"});
        auto const a = limit_at(test.instrument.accuracy, pair.reference);
        if (!a) return std::unexpected(a.error());
        errors.push_back(100.0 * (pair.meter - pair.reference) / pair.reference);
        limits.push_back(100.0 * *a / std::abs(pair.reference));
        hidden = std::max(hidden, 50.0 * test.meter_last_place / std::abs(pair.reference));
    }
    auto const scatter = scatter_of(errors);
    auto const n = static_cast<double>(limits.size());
    Comparison all{.condition = test.condition, .time = test.time, .error_percent = scatter.mean};
    all.registration_percent = 100.0 + scatter.mean;
    std::vector<Share> parts{
        {"accuracy of the reference instrument",
         chain::u_of_rectangular(std::accumulate(limits.begin(), limits.end(), 0.0) / n), std::nullopt},
        {"phase error of the reference instrument",
         chain::u_of_rectangular(phase_limit_percent(test.instrument.accuracy, test.power_factor)),
         std::nullopt},
        {"last place of the meter", chain::u_of_rectangular(hidden), std::nullopt}};
    if (scatter.degrees > 0.0)
        parts.push_back({"scatter of the readings", scatter.u_of_mean, scatter.degrees});
    all.uncertainty = uncertainty_of(std::move(parts));
    all.judgement = judged(all.error_percent, all.uncertainty, limit);
    if (scatter.degrees < 1.0)
        all.judgement =
            taken_back(all.judgement, "one pair of readings does not show its own scatter: take more");
    if (auto const doubt = calibration_doubt(test.instrument, test.time))
        all.judgement = taken_back(all.judgement, *doubt);
    return all;
}

std::expected<FoundAndLeft, Fault> kept_apart(std::vector<Comparison> comparisons) {
    FoundAndLeft both;
    for (auto& one : comparisons) {
        auto& place = one.condition == Condition::as_found ? both.as_found : both.as_left;
        if (place)
            return std::unexpected(Fault{"two comparisons bear the same condition", "condition",
                                         std::string{plan::name_of(one.condition)},
                                         "one as-found, one as-left",
                                         "keep a repeated test as a test of its own"});
        place = std::move(one);
    }
    if (!both.as_found || !both.as_left) return both;
    auto const first = moment_of(both.as_found->time);
    auto const last = moment_of(both.as_left->time);
    if (first && last && *last < *first)
        return std::unexpected(Fault{"as-left is older than as-found", "time", both.as_left->time,
                                     "later than " + both.as_found->time, "one of the two dates is wrong"});
    both.change_percent = both.as_left->error_percent - both.as_found->error_percent;
    return both;
}

}  // namespace phasewright::evidence
