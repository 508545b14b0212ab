#include "core/chain/meter_class.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace phasewright::chain {

namespace {
constexpr double slack = 1e-9;
constexpr double nearly_one = 0.999;

bool current_fits(MeterRow const& row, MeterLoad const& load) {
    double const share = load.share_of_rated;
    if (share < row.from * (1.0 - slack)) return false;
    return !row.to || share < *row.to * (1.0 - slack);
}

bool temperature_fits(MeterRow const& row, double temperature_c) {
    return !row.temperature_c ||
           (row.temperature_c->least <= temperature_c && temperature_c <= row.temperature_c->most);
}

// The widest row of one power factor at this load; null: none.
MeterRow const* row_for(MeterClass const& of, MeterLoad const& load, FactorRow factor) {
    MeterRow const* widest = nullptr;
    for (auto const& row : of.rows) {
        bool const fits = row.factor == factor && row.loading == load.loading && current_fits(row, load) &&
                          temperature_fits(row, load.temperature_c);
        // At the joint of two temperature ranges the narrower one is for the milder weather: both hold.
        if (fits && (widest == nullptr || row.percent < widest->percent)) widest = &row;
    }
    return widest;
}

// The power factor rows that bound this load, from unity on.
std::vector<FactorRow> bounding(MeterLoad const& load) {
    double const half = load.leading ? 0.8 : 0.5;
    double const quarter = load.leading ? 0.5 : 0.25;
    if (load.power_factor >= nearly_one) return {FactorRow::unity};
    if (std::abs(load.power_factor - half) < slack) return {FactorRow::half};
    if (load.power_factor > half) return {FactorRow::unity, FactorRow::half};
    if (load.power_factor >= quarter - slack) return {FactorRow::half, FactorRow::quarter};
    return {};
}

NotStated why_none(MeterClass const& of, MeterLoad const& load) {
    double lowest = 1e9;
    for (auto const& row : of.rows) lowest = std::min(lowest, row.from);
    return load.share_of_rated < lowest ? NotStated::below_lowest : NotStated::outside_its_factors;
}
}  // namespace

MeterLimit limit_at(MeterClass const& of, MeterLoad const& load) {
    MeterLimit limit{.source = of.source};
    if (load.most_share && load.share_of_rated > *load.most_share * (1.0 + slack)) {
        limit.why = NotStated::above_highest;
        return limit;
    }
    double const least_factor = load.leading ? 0.8 : 0.5;
    if (auto const* const row = row_for(of, load, FactorRow::all);
        row && load.power_factor >= least_factor - slack) {
        limit.percent = row->percent;
        limit.source.footing = row->footing;
        return limit;
    }
    auto const bounds = bounding(load);
    for (auto const factor : bounds) {
        auto const* const row = row_for(of, load, factor);
        if (row == nullptr) {  // a bound needs both ends
            limit.percent.reset();
            limit.why = why_none(of, load);
            return limit;
        }
        if (limit.percent && *limit.percent >= row->percent) continue;
        limit.percent = row->percent;
        limit.source.footing = row->footing;
    }
    if (bounds.empty()) limit.why = NotStated::outside_its_factors;
    limit.between_factors = bounds.size() > 1;
    return limit;
}

double system_class_exact(double sensor, double meter) { return 1.15 * std::hypot(sensor, meter); }

std::optional<double> system_class(double sensor, double meter) {
    constexpr std::array listed{0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 5.0, 10.0, 20.0};
    double const exact = system_class_exact(sensor, meter);
    auto const* const found = std::ranges::lower_bound(listed, exact * (1.0 - slack));
    if (found == listed.end()) return std::nullopt;
    return *found;
}

}  // namespace phasewright::chain
