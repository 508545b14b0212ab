#include "core/diagnosis/lag_variants.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/quantity/angle.hpp"

namespace phasewright::diagnosis {

namespace {
using readings::SignHabit;

double acos_deg(double ratio) { return std::acos(std::clamp(ratio, -1.0, 1.0)) * 180.0 / std::numbers::pi; }

// The angles one element may have; each equally likely. Empty: nothing known.
using Candidates = std::vector<double>;

Candidates both_signs(double lag_deg) {
    if (lag_deg < 1e-9 || lag_deg > 180.0 - 1e-9) return {lag_deg};
    return {lag_deg, -lag_deg};
}

Candidates from_power_factor(PowerWords const& e, SignHabit habit) {
    double const size = acos_deg(std::abs(*e.pf));
    std::optional<bool> importing;
    if (e.p) importing = *e.p >= 0.0;
    if (habit == SignHabit::iec) {  // the sign is the direction of active power
        if (!importing) importing = *e.pf >= 0.0;
        return both_signs(*importing ? size : 180.0 - size);
    }
    if (habit == SignHabit::ieee) {  // positive leads: sign = -sgn(P Q)
        double const import_side = *e.pf >= 0.0 ? -size : size;
        double const export_side = *e.pf >= 0.0 ? 180.0 - size : size - 180.0;
        if (importing) return {*importing ? import_side : export_side};
        return {import_side, export_side};
    }
    auto lags = both_signs(size);
    if (importing) return *importing ? lags : both_signs(180.0 - size);
    for (double const lag : both_signs(180.0 - size)) lags.push_back(lag);
    return lags;
}

Candidates candidates_of(PowerWords const& e, SignHabit pf_habit, SignHabit var_habit, bool var_turned) {
    if (e.p && e.q) {
        if (*e.p == 0.0 && *e.q == 0.0) return {};
        double const lag = std::atan2(*e.q, *e.p) * 180.0 / std::numbers::pi;
        if (var_habit == SignHabit::unsigned_) return both_signs(std::abs(lag));
        return {quantity::wrapped_deg(var_turned ? -lag : lag)};
    }
    if (e.lag_from_angles_deg) return {*e.lag_from_angles_deg};
    if (e.pf && (*e.pf != 0.0 || e.p)) return from_power_factor(e, pf_habit);
    if (e.p && e.v && e.i && *e.v * *e.i > 0.0) return both_signs(acos_deg(*e.p / (*e.v * *e.i)));
    return {};
}

void multiply_out(std::vector<Candidates> const& per_element, double weight, std::vector<LagVariant>& variants) {
    std::vector<LagVariant> rows{{weight, {}}};
    for (auto const& candidates : per_element) {
        std::vector<LagVariant> longer;
        for (auto const& row : rows) {
            if (candidates.empty()) {
                longer.push_back(row);
                longer.back().lag_deg.emplace_back();
            }
            for (double const lag : candidates) {
                longer.push_back(row);
                longer.back().weight /= static_cast<double>(candidates.size());
                longer.back().lag_deg.emplace_back(lag);
            }
        }
        rows = std::move(longer);
    }
    variants.insert(variants.end(), rows.begin(), rows.end());
}
}  // namespace

std::vector<LagVariant> lag_variants(std::vector<PowerWords> const& elements, SignHabit pf_sign, SignHabit var_sign) {
    struct Habit {
        SignHabit pf;
        bool var_turned;
        double weight;
    };
    bool const uses_pf = std::ranges::any_of(elements, [](auto const& e) { return e.pf && !(e.p && e.q); });
    std::vector<Habit> habits{{pf_sign, false, 1.0}};
    if (uses_pf && pf_sign == SignHabit::unknown)
        habits = {{SignHabit::iec, false, 0.45}, {SignHabit::ieee, false, 0.35}, {SignHabit::unsigned_, false, 0.2}};
    if (var_sign == SignHabit::unknown) {
        auto turned = habits;
        for (auto& habit : habits) habit.weight *= 0.85;
        for (auto& habit : turned) habits.push_back({habit.pf, true, 0.15 * habit.weight});
    }
    std::vector<LagVariant> variants;
    for (auto const& habit : habits) {
        std::vector<Candidates> per_element;
        for (auto const& element : elements)
            per_element.push_back(candidates_of(element, habit.pf, var_sign, habit.var_turned));
        multiply_out(per_element, habit.weight, variants);
    }
    return variants;
}

}  // namespace phasewright::diagnosis
