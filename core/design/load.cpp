#include "core/design/load.hpp"

#include <algorithm>
#include <cmath>

#include "core/chain/energy_error.hpp"
#include "core/design/words.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::design {

namespace {

struct CtLimits {
    double ratio_percent = 0.0;
    double phase_min = 0.0;
    bool parallelogram = false;
    bool stated = true;
};

double lowest_share(chain::TransformerClass const& of) {
    return of.points.empty() ? 0.0 : of.points.front().percent / 100.0;
}

std::optional<CtLimits> ct_limits(Measured const& parts, double share) {
    double const lowest = lowest_share(*parts.ct);
    double const at = std::max(share, lowest);
    auto const limits =
        chain::limits_at(*parts.ct, {.share_of_rated = at, .most_percent = parts.most_percent});
    if (!limits.ratio_percent) return std::nullopt;
    double const grown = share >= lowest ? 1.0 : lowest / std::max(share, 1e-6);
    return CtLimits{grown * *limits.ratio_percent, grown * limits.phase_min.value_or(0.0),
                    limits.shape == chain::LimitShape::parallelogram, share >= lowest};
}

struct MeterBound {
    double percent = 0.0;
    bool stated = true;
};
std::optional<MeterBound> meter_bound(Measured const& parts, double share, double power_factor,
                                      bool leading) {
    double lowest = 1e9;
    for (auto const& row : parts.meter->rows) lowest = std::min(lowest, row.from);
    // Where the row of the power factor begins higher than that of unity, the current is raised to it.
    for (double at = std::max(share, lowest); at <= 1.0 + 1e-9; at *= 1.25) {
        auto const limit = chain::limit_at(
            *parts.meter, {.share_of_rated = at, .power_factor = power_factor, .leading = leading});
        if (!limit.percent) continue;
        bool const stated = at <= share * (1.0 + 1e-9);
        return MeterBound{*limit.percent * (stated ? 1.0 : at / std::max(share, 1e-6)), stated};
    }
    auto const limit = chain::limit_at(
        *parts.meter, {.share_of_rated = 1.0, .power_factor = power_factor, .leading = leading});
    if (!limit.percent) return std::nullopt;
    return MeterBound{*limit.percent, share >= 1.0};
}

double worst(CtLimits const& ct, double meter_percent, quantity::Degrees lag) {
    double most = 0.0;
    for (double const ratio : {-1.0, 1.0})
        for (double const other : {-1.0, 1.0})
            for (double const meter : {-1.0, 1.0}) {
                // A parallelogram: RCF = 1 + r, TCF = 1 + t, gamma = 2600 (r - t); the ratio error is nearly
                // -r.
                double const phase = ct.parallelogram ? chain::minutes_of_parallelogram * (ratio - other) *
                                                            ct.ratio_percent / 100.0
                                                      : other * ct.phase_min;
                chain::ChainErrors const errors{
                    .ct_percent = ct.parallelogram ? -ratio * ct.ratio_percent : ratio * ct.ratio_percent,
                    .ct_phase_min = phase,
                    .meter_percent = meter * meter_percent};
                most = std::max(most, std::abs(chain::active_error_percent(errors, lag)));
            }
    return most;
}

double filled(std::optional<double> said, double otherwise, std::string const& words,
              std::vector<std::string>& assumed) {
    if (!said) assumed.push_back(words + " of " + amps(otherwise));
    return said.value_or(otherwise);
}
}  // namespace

std::optional<LoadProfile> load_of(plan::MeteringPoint const& point, std::optional<double> breaker_a,
                                   Settings const& settings) {
    if (!point.usual_a && !point.most_a && !breaker_a) return std::nullopt;
    LoadProfile load;
    double const top = breaker_a.value_or(point.most_a.value_or(point.usual_a.value_or(1.0)));
    double const usual =
        filled(point.usual_a, std::min(settings.usual_share * top, point.most_a.value_or(top)),
               "a usual current", load.assumed);
    double const most = filled(point.most_a, std::max(usual, top), "a highest current", load.assumed);
    double const least = filled(point.least_a, settings.least_share * usual, "a least current", load.assumed);
    load.steps = {
        {{least, settings.least_hours}, {usual, settings.usual_hours}, {most, settings.most_hours}}};
    load.power_factor = point.power_factor.value_or(settings.power_factor);
    if (!point.power_factor)
        load.assumed.push_back("a power factor of " + quantity::shortest(settings.power_factor));
    load.leading = point.load_kind == plan::LoadKind::capacitive;
    return load;
}

std::optional<ErrorBound> error_bound(Measured const& parts, double amperes, double power_factor,
                                      bool leading) {
    if (parts.ct == nullptr || parts.meter == nullptr || amperes <= 0.0) return std::nullopt;
    double const share = amperes / parts.rated_primary_a;
    auto const ct = ct_limits(parts, share);
    auto const meter = meter_bound(parts, share * parts.meter_share, power_factor, leading);
    if (!ct || !meter) return std::nullopt;
    return ErrorBound{worst(*ct, meter->percent, chain::lag_of(power_factor, leading)),
                      ct->stated && meter->stated};
}

std::optional<EnergyBound> energy_bound(Measured const& parts, LoadProfile const& load) {
    double wrong = 0.0;
    double all = 0.0;
    EnergyBound bound;
    for (std::size_t k = 0; k < load.steps.size(); ++k) {
        auto const& step = load.steps[k];
        if (step.amperes <= 0.0) continue;
        auto const error = error_bound(parts, step.amperes, load.power_factor, load.leading);
        if (!error) return std::nullopt;
        wrong += step.hours * step.amperes * error->percent;
        all += step.hours * step.amperes;
        if (k == 1) bound.usual_percent = error->percent;
        if (!error->stated) bound.unproven_below_a = lowest_share(*parts.ct) * parts.rated_primary_a;
    }
    if (all <= 0.0) return std::nullopt;
    bound.over_load_percent = wrong / all;
    return bound;
}

}  // namespace phasewright::design
