#include "core/diagnosis/load_grid.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <span>

#include "core/diagnosis/gaussians.hpp"
#include "core/quantity/angle.hpp"

namespace phasewright::diagnosis {

namespace {
constexpr double level_step = 0.1;         // natural logarithm
constexpr std::size_t per_step = 4;        // table values between two grid values of the angle
constexpr double size_reach = 8.0;         // deviations of a size beyond it are astray
constexpr std::size_t sizes_per_step = 5;  // table values between two grid values of the level
constexpr double narrow_size = 0.5;        // shapes below this size factor are summed in closed form
// Levels outside the range are unlikely, not impossible: a breaker rating may be wrong.
constexpr double astray = 1e-4;
constexpr double astray_density = 0.05;
constexpr double over_full_load = 0.1;  // a breaker is passed for a while now and then

struct Own {
    double weight, sigma_deg;
};
// How one phase lies about the site's mean.
std::array<Own, 2> own_of(LoadModel const& model, LoadShape const& shape, AngleTrust const& trust) {
    auto const& spread = model.spread;
    double const noise = trust.noise_deg * trust.noise_deg / model.snapshots;
    auto const sigma = [&](double deg) { return std::sqrt(std::pow(deg * shape.spread_factor, 2.0) + noise); };
    double const sound = 1.0 - trust.outlier_weight;
    return {{{sound * (1.0 - spread.phase_tail_weight), sigma(spread.phase_deg)},
             {sound * spread.phase_tail_weight, sigma(spread.phase_tail_deg)}}};
}

// A divisor of the circle, no wider than what it must resolve.
double step_for(double narrowest_deg) {
    for (double const step : {3.0, 1.5, 1.0, 0.75, 0.5})
        if (step <= 0.8 * narrowest_deg) return step;
    return 0.25;
}

double on_circle(double deviation_deg, double sigma_deg) {
    double sum = normal_density(deviation_deg, sigma_deg);
    if (sigma_deg > 25.0)
        for (double const round : {-360.0, 360.0}) sum += normal_density(deviation_deg + round, sigma_deg);
    return sum;
}

// Density of the site's mean angle, per degree.
double belief_at(LoadModel const& model, double mean_deg) {
    double belief = 0.0;
    for (auto const& atom : model.load.atoms) {
        double const sigma = std::sqrt(atom.sigma_deg * atom.sigma_deg +
                                       model.spread.wander_deg * model.spread.wander_deg / model.snapshots);
        belief += atom.weight * on_circle(quantity::wrapped_deg(mean_deg - atom.mean_deg), sigma);
    }
    return belief;
}
}  // namespace

LoadGrid::AngleTable LoadGrid::table_of(LoadShape const& shape, std::vector<AngleTrust> const& trust) {
    AngleTable table;
    double narrowest = 60.0;
    for (auto const& one : trust) narrowest = std::min(narrowest, own_of(model_, shape, one)[0].sigma_deg);
    table.step_deg = step_for(narrowest / std::numbers::sqrt3);
    auto const points = static_cast<std::size_t>(std::lround(360.0 / table.step_deg));
    for (std::size_t g = 0; g < points; ++g) {
        double const mean = -180.0 + (static_cast<double>(g) + 0.5) * table.step_deg;
        table.prior.push_back(goes_with(shape, mean) ? belief_at(model_, mean) * table.step_deg : 0.0);
    }
    std::size_t const fine = points * per_step;
    for (auto const& one : trust) {
        auto& values = table.of_own.emplace_back(fine);
        auto const own = own_of(model_, shape, one);
        for (std::size_t i = 0; i < fine; ++i) {
            double const deviation = -180.0 + 360.0 * static_cast<double>(i) / static_cast<double>(fine);
            values[i] = own[0].weight * on_circle(deviation, own[0].sigma_deg) +
                        own[1].weight * on_circle(deviation, own[1].sigma_deg) + one.outlier_weight / 360.0;
            largest_lag_ = std::max(largest_lag_, values[i]);
        }
    }
    return table;
}

LoadGrid::LoadGrid(LoadModel const& model, std::vector<AngleTrust> const& trust)
    : model_(model),
      low_(model.log_full_load + std::log(model.load.lowest_share)),
      high_(model.log_full_load + over_full_load) {
    for (auto const& shape : model.shapes) angle_.push_back(table_of(shape, trust));
    auto const levels = static_cast<std::size_t>(std::ceil((high_ - low_) / level_step));
    for (std::size_t g = 0; g < levels; ++g)
        level_mid_.push_back(low_ + (high_ - low_) * (static_cast<double>(g) + 0.5) / static_cast<double>(levels));
    level_weight_ = 1.0 / static_cast<double>(levels);
    size_step_ = (high_ - low_) / static_cast<double>(levels * sizes_per_step);
    auto const entries = static_cast<std::size_t>(std::lround(2.0 * size_reach / size_step_)) + 2;
    for (std::size_t i = 0; i < entries; ++i) of_own_size_.push_back(own_size_density(static_cast<double>(i) * size_step_ - size_reach));
    largest_size_ = std::ranges::max(of_own_size_);
    for (auto const& shape : model.shapes)
        if (shape.size_factor < narrow_size) largest_size_ = std::max(largest_size_, own_size_density(0.0) / shape.size_factor);
}

double LoadGrid::own_size_density(double deviation) const {
    auto const& spread = model_.spread;
    return (1.0 - spread.log_magnitude_tail_weight) * normal_density(deviation, spread.log_magnitude) +
           spread.log_magnitude_tail_weight * normal_density(deviation, spread.log_magnitude_tail);
}

void LoadGrid::row_of_lag(std::size_t shape, std::size_t path, std::size_t element, double lag_deg, double* out) const {
    auto const& table = angle_[shape];
    auto const& own = table.of_own[element];
    std::size_t const points = table.prior.size();
    std::size_t const fine = own.size();
    // The deviation from the first grid value; each further one is per_step table values lower.
    double const first = lag_deg - model_.shapes[shape].angle_shift_deg[path] + 180.0 - 0.5 * table.step_deg;
    double place = (quantity::wrapped_deg(first) + 180.0) / 360.0 * static_cast<double>(fine);
    auto at = static_cast<std::size_t>(place);
    double const part = place - static_cast<double>(at);
    at %= fine;
    for (std::size_t g = 0; g < points; ++g) {
        std::size_t const next = at + 1 == fine ? 0 : at + 1;
        out[g] = own[at] + part * (own[next] - own[at]);
        at = at >= per_step ? at - per_step : at + fine - per_step;
    }
}

void LoadGrid::row_of_size(std::size_t shape, std::size_t path, double log_amps, double* out) const {
    // Each further grid value is sizes_per_step table values lower; beyond the table nothing is left.
    double const first = log_amps - model_.shapes[shape].log_size_shift[path] - level_mid_.front();
    double const place = std::clamp((first + size_reach) / size_step_, -1.0, 1e6);
    auto at = static_cast<std::ptrdiff_t>(std::floor(place));
    double const part = place - static_cast<double>(at);
    auto const last = static_cast<std::ptrdiff_t>(of_own_size_.size()) - 1;
    for (std::size_t g = 0; g < level_mid_.size(); ++g, at -= static_cast<std::ptrdiff_t>(sizes_per_step)) {
        bool const inside = at >= 0 && at < last;
        auto const here = static_cast<std::size_t>(inside ? at : 0);
        out[g] = inside ? of_own_size_[here] + part * (of_own_size_[here + 1] - of_own_size_[here]) : 0.0;
    }
}

namespace {
// Sum of weight x row x row x row over a grid, of the rows there are.
double sum_of_products(double const* weight, std::array<double const*, 3> const& rows, std::size_t points) {
    std::array<double const*, 3> there{};
    std::size_t count = 0;
    for (auto const* row : rows)
        if (row != nullptr) there[count++] = row;
    // Four sums side by side, which the compiler keeps in vector registers.
    std::array<double, 4> sum{};
    for (std::size_t g = 0; g < points; g += 4) {
        std::size_t const end = std::min<std::size_t>(4, points - g);
        for (std::size_t lane = 0; lane < end; ++lane) {
            double product = weight == nullptr ? 1.0 : weight[g + lane];
            for (std::size_t r = 0; r < count; ++r) product *= there[r][g + lane];
            sum[lane] += product;
        }
    }
    return sum[0] + sum[1] + sum[2] + sum[3];
}
}  // namespace

double LoadGrid::angle_density(std::size_t shape, std::array<double const*, 3> const& rows) const {
    auto const& prior = angle_[shape].prior;
    // With no row it is the share of the angles that the shape goes with.
    if (!model_.independent_paths) return sum_of_products(prior.data(), rows, prior.size());
    double product = 1.0;
    for (auto const* row : rows)
        if (row != nullptr) product *= sum_of_products(prior.data(), {row, nullptr, nullptr}, prior.size());
    return product;
}

double LoadGrid::size_density(std::size_t shape, std::array<double const*, 3> const& rows, PathSizes const& log_amps) const {
    std::size_t count = 0;
    for (auto const* row : rows) count += row != nullptr ? 1 : 0;
    if (count == 0) return 1.0;
    double density = 1.0;
    if (model_.shapes[shape].size_factor < narrow_size) {
        density = narrow_size_density(shape, log_amps);
    } else if (model_.independent_paths) {
        for (auto const* row : rows)
            if (row != nullptr) density *= level_weight_ * sum_of_products(nullptr, {row, nullptr, nullptr}, level_mid_.size());
    } else {
        density = level_weight_ * sum_of_products(nullptr, rows, level_mid_.size());
    }
    double anywhere = astray;
    for (std::size_t k = 0; k < count; ++k) anywhere *= astray_density;
    return (1.0 - astray) * density + anywhere;
}

double LoadGrid::narrow_size_density(std::size_t shape, PathSizes const& log_amps) const {
    auto const& spread = model_.spread;
    double const factor = model_.shapes[shape].size_factor;
    std::array<double, 3> y{};
    std::size_t count = 0;
    for (std::size_t path = 0; path < 3; ++path)
        if (log_amps[path]) y[count++] = *log_amps[path] - model_.shapes[shape].log_size_shift[path];
    double density = 0.0;
    for (std::size_t way = 0; way < (std::size_t{1} << count); ++way) {
        double weight = 1.0;
        std::array<double, 3> variance{};
        for (std::size_t k = 0; k < count; ++k) {
            bool const tail = ((way >> k) & 1U) != 0;
            double const sigma = factor * (tail ? spread.log_magnitude_tail : spread.log_magnitude);
            weight *= tail ? spread.log_magnitude_tail_weight : 1.0 - spread.log_magnitude_tail_weight;
            variance[k] = sigma * sigma;
        }
        density += weight * level_density_of({y.data(), count}, {variance.data(), count}, low_, high_, 1.0 / (high_ - low_));
    }
    return density;
}

double LoadGrid::joint_density(PathLags const& lags, std::array<std::size_t, 3> const& element, PathSizes const& log_amps) {
    double sum = 0.0;
    for (std::size_t s = 0; s < shapes(); ++s) {
        std::size_t const points = angle_points(s);
        scratch_.resize(3 * points + 3 * level_points());
        std::array<double const*, 3> lag_rows{};
        std::array<double const*, 3> size_rows{};
        for (std::size_t path = 0; path < 3; ++path) {
            if (lags[path]) {
                row_of_lag(s, path, element[path], *lags[path], &scratch_[path * points]);
                lag_rows[path] = &scratch_[path * points];
            }
            if (log_amps[path]) {
                double* const row = &scratch_[3 * points + path * level_points()];
                row_of_size(s, path, *log_amps[path], row);
                size_rows[path] = row;
            }
        }
        sum += shape_weight(s) * angle_density(s, lag_rows) * size_density(s, size_rows, log_amps);
    }
    return sum;
}

}  // namespace phasewright::diagnosis
