#include "core/diagnosis/angle_halves.hpp"

#include <algorithm>
#include <cmath>

#include "core/diagnosis/gaussians.hpp"
#include "core/quantity/angle.hpp"

namespace phasewright::diagnosis {

namespace {
using quantity::degrees_per_radian;
// Two elements in one loop show one current at every instant, whatever its cores do: only the meter's own errors part them.
constexpr double joined_loop_angle_deg = 2.0;
constexpr double joined_loop_outlier = 1e-4;
}  // namespace

namespace weighing {
double same_angle_density(double off_deg) {
    return (1.0 - field_outlier) * normal_density(quantity::wrapped_deg(off_deg), same_angle_sigma_deg) + field_outlier * any_angle;
}
double same_size_density(double off_log) {
    return (1.0 - field_outlier) * normal_density(off_log, same_size_sigma) + field_outlier * 0.1;
}
std::size_t element_of(WeighingBasis const& basis, std::size_t input) {
    return static_cast<std::size_t>(basis.outlook.element_of_input[input]);
}
std::vector<AngleTrust> trust_of(WeighingBasis const& basis) {
    auto const& spread = basis.load.spread;
    std::vector<AngleTrust> trust;
    for (std::size_t k = 0; k < basis.observed.elements; ++k)
        trust.push_back({basis.group.lag_noise_deg[k],
                         basis.observed.clashes[k] ? spread.clash_outlier_weight : spread.phase_outlier_weight});
    trust.push_back({1.0, spread.phase_outlier_weight});
    return trust;
}
}  // namespace weighing

AngleHalves::AngleHalves(WeighingBasis const& basis, LoadGrid const& grid, LagVariant const& lags)
    : basis_(basis), grid_(grid), lags_(lags), index_(basis.at.angle_classes.size(), -1) {
    for (auto const& shape : basis.load.shapes)
        for (double const shift : shape.angle_shift_deg) shapes_shift_ = shapes_shift_ || shift != 0.0;
    row_at_.assign(grid.shapes() * 3 * 3 * 2 * 12, -1);
}

double const* AngleHalves::of(std::uint32_t angle_class) {
    auto& index = index_[angle_class];
    if (index < 0) {
        index = static_cast<std::int32_t>(densities_.size());
        densities_.resize(densities_.size() + grid_.shapes());
        make(basis_.at.angle_classes[angle_class], &densities_[static_cast<std::size_t>(index)]);
    }
    return &densities_[static_cast<std::size_t>(index)];
}

LagsReadBack AngleHalves::read_back(AngleClass const& one) const {
    LagsReadBack back;
    std::optional<double> joined;  // the first of two crossed inputs, turned into the source's frame
    for (std::size_t input = 0; input < basis_.outlook.landings.model.current_inputs.size(); ++input) {
        auto const element = weighing::element_of(basis_, input);
        if (!basis_.group.flowing[element] || !lags_.lag_deg[element]) continue;
        if (one.path[input] == dead_path || one.step[input] == no_step) {
            back.beside *= weighing::any_angle;
            continue;
        }
        double const read = one.vars_turned ? -*lags_.lag_deg[element] : *lags_.lag_deg[element];
        double const lag = quantity::wrapped_deg(read + one.turn_deg[input]);
        if (one.path[input] == crossed_path) {
            if (!joined) {
                joined = lag;
                back.beside *= weighing::any_angle;
            } else {
                double const off = quantity::wrapped_deg(lag - *joined);
                back.beside *= (1.0 - joined_loop_outlier) * normal_density(off, joined_loop_angle_deg) +
                               joined_loop_outlier * weighing::any_angle;
            }
            continue;
        }
        auto const path = static_cast<std::size_t>(one.path[input]);
        if (back.lag_deg[path]) {
            back.beside *= weighing::same_angle_density(lag - *back.lag_deg[path]);
            continue;
        }
        back.lag_deg[path] = lag;
        back.element[path] = element;
    }
    return back;
}

std::size_t AngleHalves::row_of(std::size_t shape, std::size_t path, std::size_t input, AngleClass const& one, double lag_deg) {
    auto const element = weighing::element_of(basis_, input);
    double const steps_off = quantity::wrapped_deg(one.turn_deg[input] - 30.0 * one.step[input]);
    std::size_t const place = shapes_shift_ ? path : 0;
    auto const key = (((shape * 3 + place) * 3 + input) * 2 + (one.vars_turned ? 1 : 0)) * 12 + one.step[input];
    bool const is_step = std::abs(steps_off) < 0.01;
    if (is_step && row_at_[key] >= 0) return static_cast<std::size_t>(row_at_[key]);
    auto const at = rows_.size();
    rows_.resize(at + grid_.angle_points(shape));
    grid_.row_of_lag(shape, path, element, lag_deg, &rows_[at]);
    if (is_step) row_at_[key] = static_cast<std::int32_t>(at);
    return at;
}

void AngleHalves::make(AngleClass const& one, double* out) {
    auto const back = read_back(one);
    if (basis_.group.totals) {
        weigh_totals(one, out);
    } else {
        std::array<std::size_t, 3> input_of{};
        for (std::size_t input = 3; input-- > 0;)
            if (one.path[input] >= 0 && back.lag_deg[static_cast<std::size_t>(one.path[input])] &&
                back.element[static_cast<std::size_t>(one.path[input])] == weighing::element_of(basis_, input))
                input_of[static_cast<std::size_t>(one.path[input])] = input;
        for (std::size_t s = 0; s < grid_.shapes(); ++s) {
            std::array<std::size_t, 3> places{};
            for (std::size_t path = 0; path < 3; ++path)
                if (back.lag_deg[path]) places[path] = row_of(s, path, input_of[path], one, *back.lag_deg[path]);
            std::array<double const*, 3> rows{};  // only now: making a row may move all of them
            for (std::size_t path = 0; path < 3; ++path)
                if (back.lag_deg[path]) rows[path] = &rows_[places[path]];
            out[s] = grid_.angle_density(s, rows);
        }
    }
    for (std::size_t s = 0; s < grid_.shapes(); ++s) out[s] *= back.beside;
}

// Only the meter's totals tell of angles: integrate them over the site's mean angle.
void AngleHalves::weigh_totals(AngleClass const& one, double* out) const {
    constexpr double step_deg = 5.0;
    constexpr double own_spread = 10.0 / degrees_per_radian;
    auto const& model = basis_.outlook.landings.model;
    for (std::size_t s = 0; s < basis_.load.shapes.size(); ++s) {
        out[s] = 0.0;
        for (double mean = -180.0; mean < 180.0; mean += step_deg) {
            if (!goes_with(basis_.load.shapes[s], mean)) continue;
            double belief = 0.0;
            for (auto const& atom : basis_.load.load.atoms)
                belief += atom.weight * normal_density(quantity::wrapped_deg(mean - atom.mean_deg),
                                                       std::hypot(atom.sigma_deg, basis_.load.spread.wander_deg));
            double p = 0.0, q = 0.0, p_variance = 0.0, q_variance = 0.0, all_va = 0.0;
            for (std::size_t input = 0; input < model.current_inputs.size(); ++input) {
                auto const element = weighing::element_of(basis_, input);
                double const va = basis_.observed.volts[element].value_or(0.0) * basis_.group.amps[element].value_or(0.0);
                all_va += va;
                if (one.path[input] < 0 || one.step[input] == no_step) {
                    p_variance += 0.5 * va * va;
                    q_variance += 0.5 * va * va;
                    continue;
                }
                auto const path = static_cast<std::size_t>(one.path[input]);
                double const turned = mean + basis_.load.shapes[s].angle_shift_deg[path] - one.turn_deg[input];
                double const lag = (one.vars_turned ? -turned : turned) / degrees_per_radian;
                p += va * std::cos(lag);
                q += va * std::sin(lag);
                p_variance += std::pow(va * std::sin(lag) * own_spread, 2.0);
                q_variance += std::pow(va * std::cos(lag) * own_spread, 2.0);
            }
            double const floor = std::pow(0.02 * all_va + 1e-9, 2.0);
            double density = belief * step_deg * normal_density(basis_.group.totals->p_w - p, std::sqrt(p_variance + floor));
            if (basis_.group.totals->q_var)
                density *= normal_density(*basis_.group.totals->q_var - q, std::sqrt(q_variance + floor));
            out[s] += density;
        }
    }
}

}  // namespace phasewright::diagnosis
