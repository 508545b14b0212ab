#include "core/diagnosis/group_weigher.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numeric>
#include <utility>

#include "core/diagnosis/closure.hpp"
#include "core/diagnosis/floating_star.hpp"
#include "core/diagnosis/gaussians.hpp"
#include "core/diagnosis/neutral_current.hpp"
#include "core/quantity/angle.hpp"

namespace phasewright::diagnosis {

namespace {
using quantity::degrees_per_radian;
constexpr double negligible = 1e-8;  // of the best hypothesis

bool closes(plan::ServiceModel const& model) {
    return model.currents_sum_to_zero && model.service != plan::Service::four_wire_two_ct;
}
}  // namespace

GroupWeigher::GroupWeigher(WeighingBasis const& basis, WeightsSoFar const& so_far, double best)
    : basis_(basis),
      so_far_(so_far),
      grid_(basis.load, weighing::trust_of(basis)),
      sizes_(basis_, grid_),
      has_neutral_(basis.group.neutral_a && basis.outlook.landings.model.has_neutral && !basis.load.independent_paths),
      must_close_(closes(basis.outlook.landings.model)),
      best_(best) {
    auto const& outlook = basis_.outlook;
    if (!basis_.group.totals && outlook.landings.model.has_neutral)
        star_ = floating_star(outlook.landings.model, basis_.at.u, basis_.observed, {});  // where it stands depends on no prior
    std::vector<double> of_tap(outlook.landings.taps.size());
    for (std::size_t pair = 0; pair < outlook.tap_of_pair.size(); ++pair) {
        auto& most = of_tap[outlook.tap_of_pair[pair]];
        most = std::max(most, so_far.of_pair[pair] * so_far.largest[pair]);
    }
    taps_by_weight_.resize(of_tap.size());
    std::iota(taps_by_weight_.begin(), taps_by_weight_.end(), 0U);
    std::ranges::stable_sort(taps_by_weight_, [&](auto one, auto other) { return of_tap[one] > of_tap[other]; });
    bound_kinds();
}

// A third current that the meter derives says nothing of the load, but its angle to its own voltage tells where that
// tap lands: i3 = -(i1 + i2) in the meter's own frame.
std::vector<double> GroupWeigher::derived_current_densities(LagVariant const& lags) const {
    auto const& model = basis_.outlook.landings.model;
    auto const& views = basis_.at.views;
    std::vector<double> densities(views.size(), 1.0);
    for (std::size_t k = 0; k < model.elements.size(); ++k) {
        if (model.elements[k].current_input != plan::derived_current || !lags.lag_deg[k] || !basis_.group.flowing[k]) continue;
        for (std::size_t tap = 0; tap < views.size(); ++tap) {
            std::complex<double> sum = 0.0;
            bool known = views[tap].angle_deg[k].has_value();
            for (std::size_t other = 0; other < model.elements.size() && known; ++other) {
                if (other == k) continue;
                bool const flows = basis_.group.flowing[other];
                known = !flows || (lags.lag_deg[other] && views[tap].angle_deg[other]);
                if (flows && known)
                    sum -= std::polar(*basis_.group.amps[other],
                                      (*views[tap].angle_deg[other] - *lags.lag_deg[other]) / degrees_per_radian);
            }
            if (!known) {
                densities[tap] *= weighing::any_angle;
                continue;
            }
            double const predicted = *views[tap].angle_deg[k] - std::arg(sum) * degrees_per_radian;
            double const off = quantity::wrapped_deg(*lags.lag_deg[k] - predicted);
            densities[tap] *= (1.0 - weighing::field_outlier) * normal_density(off, 2.0) + weighing::field_outlier * weighing::any_angle;
        }
    }
    return densities;
}

// With any ratio: every lag and every size at its crest.
void GroupWeigher::bound_kinds() {
    double const again = weighing::same_angle_density(0.0) * weighing::same_size_density(0.0);
    double const size = grid_.largest_size_density();
    std::array<double, kinds_of_input> const most{grid_.largest_lag_density() * size, again, weighing::any_angle * size,
                                                  weighing::any_angle * size, 1.1 * again};
    std::size_t const inputs = basis_.outlook.landings.model.current_inputs.size();
    // What a closing sum can add: its crest, or the crests of the third current that follows.
    // A neutral current is a density per ampere, at most that of a milliampere's width.
    double const closing = must_close_ || has_neutral_ ? 1e3 : 1.0;
    for (std::size_t kind = 0; kind < kinds_of_class; ++kind) {
        // Totals tell of every element at once, and watts are no degrees: nothing bounds them here.
        bound_[kind] = basis_.group.totals ? 1e300 : closing;
        std::size_t rest = kind;
        for (std::size_t input = inputs; input-- > 0; rest /= kinds_of_input)
            if (basis_.group.flowing[weighing::element_of(basis_, input)]) bound_[kind] *= most[rest % kinds_of_input];
    }
}

// With the supply's neutral broken the phases must carry their own return. Each current stands against the volts that its
// element really has.
double GroupWeigher::of_return(LagVariant const& lags, std::uint32_t current, std::uint32_t ratio) const {
    auto const& outlook = basis_.outlook;
    auto const& landing = outlook.landings.currents[current];
    std::size_t const paths = outlook.landings.model.live.size();
    std::array<std::optional<std::complex<double>>, 3> flows;
    for (std::size_t input = 0; input < outlook.landings.model.current_inputs.size(); ++input) {
        if (landing.path[input] < 0 || landing.coil) return 1.0;
        auto const k = weighing::element_of(basis_, input);
        auto& flow = flows[static_cast<std::size_t>(landing.path[input])];
        if (!basis_.group.flowing[k]) {
            flow = 0.0;
            continue;
        }
        if (!lags.lag_deg[k] || !basis_.group.amps[k]) return 1.0;
        double const lag = landing.vars_turned ? -*lags.lag_deg[k] : *lags.lag_deg[k];
        double const amps = *basis_.group.amps[k] / outlook.landings.ratios[ratio][input];
        flow = static_cast<double>(landing.sign[input]) * std::polar(amps, std::arg(star_->volts[k]) - lag / degrees_per_radian);
    }
    std::complex<double> sum = 0.0;
    double sizes = 0.0;
    for (std::size_t path = 0; path < paths; ++path) {
        if (!flows[path]) return 1.0;
        sum += *flows[path];
        sizes += std::abs(*flows[path]);
    }
    return sizes > 0.0 ? likelier_by_returning(std::abs(sum) * static_cast<double>(paths) / sizes) : 1.0;
}

double GroupWeigher::of_neutral(AngleHalves const& angles, AngleClass const& one, std::uint32_t current, std::uint32_t ratio) const {
    auto const& outlook = basis_.outlook;
    auto const& landing = outlook.landings.currents[current];
    CurrentsReadBack back{.lag_deg = angles.read_back(one).lag_deg,
                          .log_amps = sizes_.read_back(outlook.size_classes[outlook.size_class_of[current]], ratio).log_amps,
                          .path_angle_deg = basis_.at.path_angle_deg,
                          .paths = outlook.landings.model.live.size(),
                          .path_of_input = landing.path,
                          .sign_of_input = landing.sign,
                          .inputs = outlook.landings.model.current_inputs.size()};
    for (std::size_t input = 0; input < back.inputs; ++input) {
        auto const element = weighing::element_of(basis_, input);
        if (basis_.group.flowing[element]) back.shown_a[input] = basis_.group.amps[element].value_or(0.0);
    }
    return density_of_neutral(*basis_.group.neutral_a, back);
}

void GroupWeigher::add(LagVariant const& lags, double share, std::vector<double>& density, std::vector<bool>& touched) {
    auto const& outlook = basis_.outlook;
    AngleHalves angles(basis_, grid_, lags);
    auto const derived = derived_current_densities(lags);
    std::size_t const shapes = grid_.shapes();
    double const slack = basis_.group.totals ? 1e300 : must_close_ || has_neutral_ ? 1e3 : 1.0;
    // Three-wire services: the same angles with the same sizes close in the same way.
    std::unordered_map<std::uint64_t, double> closed;
    auto const close = [&](std::uint32_t angle_class, std::uint32_t current, std::uint32_t ratio, double own) {
        auto const [entry, is_new] = closed.try_emplace((std::uint64_t{angle_class} << 32) | ratio, 0.0);
        if (is_new) {
            auto const lag = angles.read_back(basis_.at.angle_classes[angle_class]);
            auto const amps = sizes_.read_back(outlook.size_classes[outlook.size_class_of[current]], ratio);
            entry->second = closed_density(grid_, {lag.lag_deg, amps.log_amps, lag.element, amps.empty}, basis_.at.path_angle_deg,
                                           basis_.observed.elements, own, lag.beside * amps.beside);
        }
        return entry->second;
    };
    for (auto const tap : taps_by_weight_) {
        bool const returns = star_ && basis_.at.views[tap].star_floats;
        double const lift = returns ? most_by_returning : 1.0;
        for (auto place = outlook.first_pair[tap]; place < outlook.first_pair[tap + 1]; ++place) {
            auto const pair = outlook.likeliest_first[place];
            auto const angle_class = basis_.at.angle_class_of[pair];
            double const before = so_far_.of_pair[pair] * share * derived[tap] * lift;
            if (before * so_far_.largest[pair] * bound_[basis_.at.angle_classes[angle_class].kind] <= negligible * best_) continue;
            double const* const angle = angles.of(angle_class);
            auto const current = outlook.current_of_pair[pair];
            touched[pair] = true;
            for (auto h = outlook.first[pair]; h < outlook.first[pair + 1]; ++h) {
                auto const ratio = outlook.landings.ratio_of[h];
                double const* const size = sizes_.of(current, ratio);
                double own = 0.0;
                for (std::size_t s = 0; s < shapes; ++s) own += grid_.shape_weight(s) * angle[s] * size[s];
                if (before * so_far_.of_hypothesis[h] * own * slack <= negligible * best_) continue;
                if (must_close_) own = close(angle_class, current, ratio, own);
                if (has_neutral_) own *= of_neutral(angles, basis_.at.angle_classes[angle_class], current, ratio);
                if (returns) own *= of_return(lags, current, ratio);
                density[h] += share * derived[tap] * own;
                best_ = std::max(best_, before / lift * so_far_.of_hypothesis[h] * own);
            }
        }
    }
}

}  // namespace phasewright::diagnosis
