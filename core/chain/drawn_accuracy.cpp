#include "core/chain/drawn_accuracy.hpp"

#include <array>
#include <cmath>

namespace phasewright::chain {

namespace {
using Complex = std::complex<double>;
constexpr double rad_per_minute = crad_per_minute / 100.0;

struct Prepared {
    LoadShares shares;
    LimitsOfChain limits;
    double weight = 0.0;
};

// What an instrument makes of its phasor, its errors being `first` and `second` of their limits. `leading` is
// the sign of gamma in TCF = RCF -+ gamma / 2600: +1 for a CT.
Complex instrument(TransformerLimits const& limits, double first, double second, double leading) {
    double const ratio = limits.ratio_percent.value_or(0.0) / 100.0;
    if (limits.shape == LimitShape::parallelogram) {
        double const minutes = leading * minutes_of_parallelogram * ratio * (first - second);
        return std::polar(1.0 / (1.0 + ratio * first), minutes * rad_per_minute);
    }
    return std::polar(1.0 + ratio * first, limits.phase_min.value_or(0.0) * second * rad_per_minute);
}

struct Drawn {
    std::array<double, most_in_a_meter> ct_first{}, ct_second{}, vt_first{}, vt_second{};
    double meter = 0.0, loading = 0.0, pick_up_size = 0.0;
};

Drawn drawn(PointChain const& chain, quantity::Dice& dice, std::size_t inputs, std::size_t elements) {
    Drawn one;
    double const alike = chain.assumptions.correlation;
    draw_alike(dice, alike, std::span{one.ct_first}.first(inputs));
    draw_alike(dice, alike, std::span{one.ct_second}.first(inputs));
    if (chain.has_vt) {
        draw_alike(dice, alike, std::span{one.vt_first}.first(elements));
        draw_alike(dice, alike, std::span{one.vt_second}.first(elements));
    }
    one.meter = dice.between(1.0);
    if (chain.loading_percent) one.loading = dice.between(1.0) * *chain.loading_percent / 100.0;
    if (chain.pick_up > 0.0) one.pick_up_size = dice.between(1.0) * chain.pick_up;
    return one;
}

// Metered over true active power of one load.
double metered(PointChain const& chain, Prepared const& at, Drawn const& one) {
    Complex sum = 0.0;
    for (std::size_t k = 0; k < at.shares.elements; ++k) {
        auto const volts =
            chain.has_vt ? instrument(at.limits.vt, one.vt_first[k], one.vt_second[k], -1.0) : Complex{1.0};
        for (std::size_t j = 0; j < at.shares.inputs; ++j)
            sum += at.shares.of[k][j] * volts *
                   std::conj(instrument(at.limits.ct, one.ct_first[j], one.ct_second[j], 1.0));
    }
    // What the leads pick up turns as the currents do: its worst angle is taken, as in the budget.
    double size = 0.0;
    for (std::size_t j = 0; j < at.shares.inputs; ++j) size += std::abs(at.shares.of_input(j));
    double const meter = 1.0 + at.limits.meter.percent.value_or(0.0) / 100.0 * one.meter;
    return (sum.real() * (1.0 + one.loading) + one.pick_up_size * size) * meter;
}
}  // namespace

DrawnAccuracy drawn_accuracy(PointChain const& chain, std::span<LoadPoint const> loads, std::uint64_t seed,
                             std::size_t least_draws) {
    auto const reckoned = budget_at(chain, loads);
    if (!reckoned.budget) return {std::nullopt, reckoned.silent};
    double energy = 0.0;
    for (auto const& load : loads) energy += load.share_of_time * load.current_a * load.power_factor;
    std::vector<Prepared> all;
    for (auto const& load : loads) {
        double const own = load.share_of_time * load.current_a * load.power_factor;
        if (own > 0.0)
            all.push_back({load_shares(chain.model, chain.nominal, lag_of_load(load)), limits_at(chain, load),
                           own / energy});
    }
    auto const draw = [&](quantity::Dice& dice) {
        auto const one = drawn(chain, dice, all.front().shares.inputs, all.front().shares.elements);
        double sum = 0.0;
        for (auto const& at : all) sum += at.weight * metered(chain, at, one);
        return 100.0 * (sum - 1.0);
    };
    return {quantity::band_of(draw, seed, 0.95, least_draws), std::nullopt};
}

}  // namespace phasewright::chain
