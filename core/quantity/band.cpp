#include "core/quantity/band.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>
#include <vector>

namespace phasewright::quantity {

namespace {
double quantile(std::vector<double>& values, double at) {
    auto const place = static_cast<std::size_t>(std::lround(at * static_cast<double>(values.size() - 1)));
    auto const nth = values.begin() + static_cast<std::ptrdiff_t>(place);
    std::ranges::nth_element(values, nth);
    return *nth;
}

// Mean, standard deviation, the points below which `tail` lies and above which it does.
using Summary = std::array<double, 4>;
Summary summary_of(std::vector<double> values, double tail) {
    auto const count = static_cast<double>(values.size());
    double mean = 0.0;
    for (double const value : values) mean += value / count;
    double variance = 0.0;
    for (double const value : values) variance += (value - mean) * (value - mean) / (count - 1.0);
    return {mean, std::sqrt(variance), quantile(values, tail), quantile(values, 1.0 - tail)};
}

// 7.9.2: u = c 10^l with c of one digit; the tolerance is half of 10^l.
double tolerance_of(double sd) { return sd > 0.0 ? 0.5 * std::pow(10.0, std::floor(std::log10(sd))) : 0.0; }

bool is_settled(std::vector<Summary> const& batches) {
    auto const count = static_cast<double>(batches.size());
    Summary mean{};
    for (auto const& batch : batches)
        for (std::size_t k = 0; k < mean.size(); ++k) mean[k] += batch[k] / count;
    double const tolerance = tolerance_of(mean[1]);
    for (std::size_t k = 0; k < mean.size(); ++k) {
        double squares = 0.0;
        for (auto const& batch : batches) squares += (batch[k] - mean[k]) * (batch[k] - mean[k]);
        if (2.0 * std::sqrt(squares / (count * (count - 1.0))) > tolerance) return false;
    }
    return true;
}
}  // namespace

Band band_of(std::function<double(Dice&)> const& draw, std::uint64_t seed, double within,
             std::size_t least_draws) {
    double const tail = (1.0 - within) / 2.0;
    Dice dice{seed};
    std::vector<double> all;
    std::vector<Summary> batches;
    bool settled = false;
    while (all.size() < most_draws_of_a_band && !settled) {
        std::vector<double> batch(draws_a_batch);
        for (auto& value : batch) value = draw(dice);
        all.insert(all.end(), batch.begin(), batch.end());
        batches.push_back(summary_of(std::move(batch), tail));
        settled = all.size() >= least_draws && batches.size() > 1 && is_settled(batches);
    }
    auto const count = all.size();
    auto const summary = summary_of(std::move(all), tail);
    return {summary[0], summary[1], summary[2], summary[3], count, settled};
}

}  // namespace phasewright::quantity
