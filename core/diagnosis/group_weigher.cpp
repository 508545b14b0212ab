#include "core/diagnosis/group_weigher.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <unordered_map>

#include "core/diagnosis/closure.hpp"
#include "core/diagnosis/gaussians.hpp"
#include "core/quantity/angle.hpp"

namespace phasewright::diagnosis {

namespace {
constexpr double degrees_per_radian = 180.0 / std::numbers::pi;
constexpr double any_angle = 1.0 / 360.0;
constexpr double same_size_sigma = 0.02;       // two elements on one conductor: CT and meter classes
constexpr double same_angle_sigma_deg = 1.0;
constexpr double field_outlier = 0.01;
constexpr double dead_shows_nothing = 0.97;    // the rest: pick-up, a link that takes only most of the current
constexpr double pick_up_share = 0.05;         // of full load: what a dead lead picks up lies below it
constexpr double pick_up_density = 0.4;        // per unit of logarithm, of that rest; above the share a thousandth
constexpr double one_says_none = 1e-4;         // two elements on one conductor, one of them without current

constexpr std::uint8_t no_angle = 12;

std::uint8_t step_of(double degrees) {
    auto const steps = static_cast<int>(std::lround(degrees / 30.0));
    return static_cast<std::uint8_t>(((steps % 12) + 12) % 12);
}
}  // namespace

GroupWeigher::GroupWeigher(WeighingBasis const& basis) : basis_(basis) {
    auto const& model = basis_.landings.model;
    for (std::size_t k = 0; k < model.elements.size(); ++k)
        if (int const input = model.elements[k].current_input; input >= 0)
            element_of_input_[static_cast<std::size_t>(input)] = static_cast<int>(k);
    for (std::size_t path = 0; path < model.live.size(); ++path)
        path_angle_deg_[path] = std::arg(basis_.u[static_cast<std::size_t>(model.live[path])]) * degrees_per_radian;
    must_close_ = model.currents_sum_to_zero && model.service != plan::Service::four_wire_two_ct;
    angle_index_.assign(std::size_t{1} << 18, -1);
    size_index_.assign(basis_.landings.currents.size() * basis_.landings.ratios.size(), -1);
    for (auto const& view : basis_.views) {
        auto& of_tap = steps_.emplace_back();
        for (std::size_t input = 0; input < model.current_inputs.size(); ++input) {
            auto const& angle = view.angle_deg[static_cast<std::size_t>(element_of_input_[input])];
            for (std::size_t path = 0; path < model.live.size(); ++path)
                for (std::size_t turned = 0; turned < 2; ++turned)
                    of_tap[input][path][turned] =
                        angle ? step_of(path_angle_deg_[path] - *angle + (turned == 1 ? 180.0 : 0.0)) : no_angle;
        }
    }
}

// One element: the path that feeds it (2 bits) and by how many steps of 30 degrees its lag must be turned to become
// the path's own (4 bits).
std::uint32_t GroupWeigher::angle_key(std::uint32_t tap, CurrentLanding const& current) const {
    std::uint32_t key = 0;
    auto const& steps = steps_[tap];
    for (std::size_t input = 0; input < basis_.landings.model.current_inputs.size(); ++input) {
        bool const dead = current.path[input] < 0;
        auto const path = static_cast<std::uint32_t>(dead ? 3 : current.path[input]);
        std::uint32_t const step = dead ? no_angle : steps[input][path][current.sign[input] < 0 ? 1 : 0];
        key = (key << 6) | (path << 4) | step;
    }
    return key;
}

GroupWeigher::AngleHalf const& GroupWeigher::angle_half(std::uint32_t tap, std::uint32_t current, LagVariant const& lags) {
    auto const& landing = basis_.landings.currents[current];
    auto& index = angle_index_[angle_key(tap, landing)];
    if (index < 0) {
        index = static_cast<std::int32_t>(angle_halves_.size());
        angle_halves_.push_back(make_angle_half(tap, landing, lags));
    }
    return angle_halves_[static_cast<std::size_t>(index)];
}

PathTrust GroupWeigher::trust_by_path(CurrentLanding const& current) const {
    PathTrust trust;
    auto const& spread = basis_.load.spread;
    trust.outlier_weight.fill(spread.phase_outlier_weight);
    for (std::size_t input = 0; input < basis_.landings.model.current_inputs.size(); ++input) {
        if (current.path[input] < 0) continue;
        auto const path = static_cast<std::size_t>(current.path[input]);
        auto const element = static_cast<std::size_t>(element_of_input_[input]);
        trust.noise_deg[path] = basis_.group.lag_noise_deg[element];
        if (basis_.observed.clashes[element]) trust.outlier_weight[path] = spread.clash_outlier_weight;
    }
    return trust;
}

GroupWeigher::AngleHalf GroupWeigher::make_angle_half(std::uint32_t tap, CurrentLanding const& current,
                                                      LagVariant const& lags) const {
    AngleHalf half;
    double extra = 1.0;
    auto const& view = basis_.views[tap];
    for (std::size_t input = 0; input < basis_.landings.model.current_inputs.size(); ++input) {
        auto const element = static_cast<std::size_t>(element_of_input_[input]);
        if (!basis_.group.flowing[element] || !lags.lag_deg[element]) continue;
        if (current.path[input] < 0 || !view.angle_deg[element]) {
            extra *= any_angle;
            continue;
        }
        auto const path = static_cast<std::size_t>(current.path[input]);
        double const turn = path_angle_deg_[path] - *view.angle_deg[element] + (current.sign[input] < 0 ? 180.0 : 0.0);
        double const lag = quantity::wrapped_deg(*lags.lag_deg[element] + turn);
        if (!half.lag_deg[path]) {
            half.lag_deg[path] = lag;
            continue;
        }
        double const off = quantity::wrapped_deg(lag - *half.lag_deg[path]);
        extra *= (1.0 - field_outlier) * normal_density(off, same_angle_sigma_deg) + field_outlier * any_angle;
    }
    if (basis_.group.totals)
        weigh_totals(tap, current, half);
    else
        densities_of_lags(basis_.load, half.lag_deg, trust_by_path(current), half.per_shape);
    for (double& density : half.per_shape) density *= extra;
    return half;
}

// Only the meter's totals tell of angles: integrate them over the site's mean angle.
void GroupWeigher::weigh_totals(std::uint32_t tap, CurrentLanding const& current, AngleHalf& half) const {
    constexpr double step_deg = 5.0;
    constexpr double own_spread = 10.0 / degrees_per_radian;
    auto const& model = basis_.landings.model;
    auto const& view = basis_.views[tap];
    half.per_shape.assign(basis_.load.shapes.size(), 0.0);
    for (std::size_t s = 0; s < basis_.load.shapes.size(); ++s) {
        for (double mean = -180.0; mean < 180.0; mean += step_deg) {
            double belief = 0.0;
            for (auto const& atom : basis_.load.load.atoms)
                belief += atom.weight * normal_density(quantity::wrapped_deg(mean - atom.mean_deg),
                                                       std::hypot(atom.sigma_deg, basis_.load.spread.wander_deg));
            double p = 0.0, q = 0.0, p_variance = 0.0, q_variance = 0.0, all_va = 0.0;
            for (std::size_t input = 0; input < model.current_inputs.size(); ++input) {
                auto const element = static_cast<std::size_t>(element_of_input_[input]);
                double const va = basis_.observed.volts[element].value_or(0.0) * basis_.group.amps[element].value_or(0.0);
                all_va += va;
                if (current.path[input] < 0 || !view.angle_deg[element]) {
                    p_variance += 0.5 * va * va;
                    q_variance += 0.5 * va * va;
                    continue;
                }
                auto const path = static_cast<std::size_t>(current.path[input]);
                double const turn = path_angle_deg_[path] - *view.angle_deg[element] + (current.sign[input] < 0 ? 180.0 : 0.0);
                double const lag = (mean + basis_.load.shapes[s].angle_shift_deg[path] - turn) / degrees_per_radian;
                p += va * std::cos(lag);
                q += va * std::sin(lag);
                p_variance += std::pow(va * std::sin(lag) * own_spread, 2.0);
                q_variance += std::pow(va * std::cos(lag) * own_spread, 2.0);
            }
            double const floor = std::pow(0.02 * all_va + 1e-9, 2.0);
            double density = belief * step_deg * normal_density(basis_.group.totals->p_w - p, std::sqrt(p_variance + floor));
            if (basis_.group.totals->q_var)
                density *= normal_density(*basis_.group.totals->q_var - q, std::sqrt(q_variance + floor));
            half.per_shape[s] += density;
        }
    }
}

GroupWeigher::SizeHalf const& GroupWeigher::size_half(std::uint32_t current, std::uint32_t ratio) {
    auto& index = size_index_[current * basis_.landings.ratios.size() + ratio];
    if (index < 0) {
        index = static_cast<std::int32_t>(size_halves_.size());
        size_halves_.push_back(make_size_half(basis_.landings.currents[current], basis_.landings.ratios[ratio]));
    }
    return size_halves_[static_cast<std::size_t>(index)];
}

GroupWeigher::SizeHalf GroupWeigher::make_size_half(CurrentLanding const& current, RatioSetting const& ratio) const {
    SizeHalf half;
    double extra = 1.0;
    std::array<bool, 3> met{};
    std::array<bool, 3> empty{};
    for (std::size_t input = 0; input < basis_.landings.model.current_inputs.size(); ++input) {
        auto const element = static_cast<std::size_t>(element_of_input_[input]);
        if (!basis_.group.amps[element]) continue;
        bool const flows = basis_.group.flowing[element];
        if (current.path[input] < 0) {
            bool const small = *basis_.group.amps[element] < pick_up_share * basis_.observed.full_load_a;
            extra *= flows ? (1.0 - dead_shows_nothing) * pick_up_density * (small ? 1.0 : 1e-3) : dead_shows_nothing;
            continue;
        }
        auto const path = static_cast<std::size_t>(current.path[input]);
        if (met[path] && flows == empty[path]) extra *= one_says_none;
        if (flows) {
            double const size = std::log(*basis_.group.amps[element] / ratio[input]);
            if (!half.log_amps[path])
                half.log_amps[path] = size;
            else
                extra *= (1.0 - field_outlier) * normal_density(size - *half.log_amps[path], same_size_sigma) + field_outlier * 0.1;
        }
        empty[path] = !met[path] ? !flows : empty[path] && !flows;
        met[path] = true;
    }
    std::size_t unloaded = 0;
    std::size_t seen = 0;
    for (std::size_t path = 0; path < basis_.landings.model.live.size(); ++path) {
        unloaded += met[path] && empty[path] ? 1 : 0;
        seen += met[path] ? 1 : 0;
    }
    auto const& load = basis_.load.load;
    double const each = std::pow(load.unloaded_phase, static_cast<double>(unloaded));
    if (unloaded > 0) extra *= unloaded == seen ? load.unloaded_site * std::pow(0.3, static_cast<double>(seen - 1)) * 3.0 + each : each;
    densities_of_sizes(basis_.load, half.log_amps, half.per_shape);
    for (double& density : half.per_shape) density *= extra;
    return half;
}

double GroupWeigher::joined(AngleHalf const& angles, SizeHalf const& sizes) const {
    double sum = 0.0;
    for (std::size_t s = 0; s < angles.per_shape.size(); ++s)
        sum += basis_.load.shapes[s].weight * angles.per_shape[s] * sizes.per_shape[s];
    return sum;
}

// A third current that the meter derives says nothing of the load, but its angle to its own voltage tells where that
// tap lands: i3 = -(i1 + i2) in the meter's own frame.
std::vector<double> GroupWeigher::derived_current_densities(LagVariant const& lags) const {
    auto const& model = basis_.landings.model;
    std::vector<double> densities(basis_.views.size(), 1.0);
    for (std::size_t k = 0; k < model.elements.size(); ++k) {
        if (model.elements[k].current_input != plan::derived_current || !lags.lag_deg[k] || !basis_.group.flowing[k]) continue;
        for (std::size_t tap = 0; tap < basis_.views.size(); ++tap) {
            std::complex<double> sum = 0.0;
            bool known = basis_.views[tap].angle_deg[k].has_value();
            for (std::size_t other = 0; other < model.elements.size() && known; ++other) {
                if (other == k) continue;
                bool const flows = basis_.group.flowing[other];
                known = !flows || (lags.lag_deg[other] && basis_.views[tap].angle_deg[other]);
                if (flows && known)
                    sum -= std::polar(*basis_.group.amps[other],
                                      (*basis_.views[tap].angle_deg[other] - *lags.lag_deg[other]) / degrees_per_radian);
            }
            if (!known) {
                densities[tap] *= any_angle;
                continue;
            }
            double const predicted = *basis_.views[tap].angle_deg[k] - std::arg(sum) * degrees_per_radian;
            double const off = quantity::wrapped_deg(*lags.lag_deg[k] - predicted);
            densities[tap] *= (1.0 - field_outlier) * normal_density(off, 2.0) + field_outlier * any_angle;
        }
    }
    return densities;
}

void GroupWeigher::add(LagVariant const& lags, double weight, std::vector<bool> const& alive, std::vector<double>& density) {
    angle_halves_.clear();
    std::ranges::fill(angle_index_, -1);
    auto const derived = derived_current_densities(lags);
    auto const& landings = basis_.landings;
    // Three-wire services: the same angles with the same sizes close in the same way.
    std::unordered_map<std::uint64_t, double> closed;
    for (std::size_t h = 0; h < landings.size(); ++h) {
        if (!alive[h]) continue;
        auto const tap = landings.tap_of[h];
        auto const current = landings.current_of[h];
        auto const& angles = angle_half(tap, current, lags);
        auto const& sizes = size_half(current, landings.ratio_of[h]);
        double own = joined(angles, sizes);
        if (must_close_ && own > 0.0) {
            // The angle key names the path of every input, so with the ratio it settles both halves.
            auto const key = (std::uint64_t{angle_key(tap, landings.currents[current])} << 32) | landings.ratio_of[h];
            auto const [entry, is_new] = closed.try_emplace(key, 0.0);
            if (is_new)
                entry->second = closed_density(basis_.load, angles.lag_deg, sizes.log_amps, path_angle_deg_,
                                               trust_by_path(landings.currents[current]), own);
            own = entry->second;
        }
        density[h] += weight * own * derived[tap];
    }
}

}  // namespace phasewright::diagnosis
