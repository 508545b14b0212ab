#include "bus/twin/counters.hpp"

#include <algorithm>
#include <cmath>

#include "bus/twin/dice.hpp"

namespace phasewright::twin {

namespace {
constexpr double seconds_per_hour = 3600.0;
}

Counters::Counters(std::uint64_t seed, std::string_view name, std::optional<double> import_wh) {
    for (std::size_t phase = 0; phase < base_.size(); ++phase) {
        Dice dice(seed_for(seed ^ 0xC0C0C0C0ULL, name, phase));
        auto& base = base_[phase];
        base.imported = 1e6 + 2e7 * dice.uniform();
        base.exported = 1e3 * dice.uniform();
        for (auto& one : base.quadrant) one = 1e5 * dice.uniform();
        base.apparent = 1.1 * base.imported;
    }
    base_[0].imported = import_wh.value_or(base_[0].imported);
}

Counters::Rates Counters::rates_of(double p, double q) {
    Rates rates{.imported = std::max(p, 0.0),
                .exported = std::max(-p, 0.0),
                .quadrant = {},
                .apparent = std::hypot(p, q)};
    // Quadrants as docs/reference/directions.md counts them: 1 import lagging, 2 export lagging, 3 export
    // leading.
    std::size_t const quadrant = q >= 0.0 ? (p >= 0.0 ? 0 : 1) : (p < 0.0 ? 2 : 3);
    rates.quadrant[quadrant] = std::abs(q);
    return rates;
}

Counters::Rates Counters::counted(int phase, double time_s) const {
    auto const k = static_cast<std::size_t>(phase);
    double const hours = (time_s - since_s_) / seconds_per_hour;
    auto sum = base_[k];
    sum.imported += rate_[k].imported * hours;
    sum.exported += rate_[k].exported * hours;
    sum.apparent += rate_[k].apparent * hours;
    for (std::size_t quadrant = 0; quadrant < sum.quadrant.size(); ++quadrant)
        sum.quadrant[quadrant] += rate_[k].quadrant[quadrant] * hours;
    return sum;
}

void Counters::run_on(readings::Snapshot const& steady, double time_s) {
    for (int phase = 0; phase < 4; ++phase) base_[static_cast<std::size_t>(phase)] = counted(phase, time_s);
    since_s_ = time_s;
    rate_ = {};
    double p_sum = 0.0;
    double q_sum = 0.0;
    for (std::size_t k = 0; k < steady.p.size() && k < 3; ++k) {
        double const p = steady.p[k].value_or(0.0);
        double const q = k < steady.q.size() ? steady.q[k].value_or(0.0) : 0.0;
        rate_[k + 1] = rates_of(p, q);
        p_sum += p;
        q_sum += q;
    }
    rate_[0] = rates_of(p_sum, q_sum);
}

void Counters::rescale(double factor, double time_s) {
    for (int phase = 0; phase < 4; ++phase) {
        auto sum = counted(phase, time_s);
        sum.imported *= factor;
        sum.exported *= factor;
        sum.apparent *= factor;
        for (auto& one : sum.quadrant) one *= factor;
        base_[static_cast<std::size_t>(phase)] = sum;
    }
    since_s_ = time_s;
}

double Counters::value(profile::EnergyHabit const& habit, int phase, double time_s) const {
    auto const sum = counted(std::clamp(phase, 0, 3), time_s);
    using profile::EnergyKind;
    if (habit.quantity == profile::EnergyQuantity::apparent) return sum.apparent;
    double imported = sum.imported;
    double exported = sum.exported;
    if (habit.quantity == profile::EnergyQuantity::reactive) {
        if (habit.quadrant >= 1 && habit.quadrant <= 4)
            return sum.quadrant[static_cast<std::size_t>(habit.quadrant - 1)];
        imported = sum.quadrant[0] + sum.quadrant[1];  // flowing to the load: q > 0
        exported = sum.quadrant[2] + sum.quadrant[3];
    }
    switch (habit.kind) {
        case EnergyKind::import: return imported;
        case EnergyKind::export_: return exported;
        case EnergyKind::net: return imported - exported;
        case EnergyKind::absolute: return imported + exported;
    }
    return imported;
}

}  // namespace phasewright::twin
