#include "core/diagnosis/answers_power.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <map>
#include <numbers>
#include <span>
#include <utility>

#include "core/diagnosis/gaussians.hpp"

namespace phasewright::diagnosis {

namespace {
using Complex = std::complex<double>;
using readings::TestAnswer;
constexpr double radians_per_degree = std::numbers::pi / 180.0;

constexpr double odd_answer = 0.01;      // another load moved, another load was metered, a number was misread
constexpr double two_meters = 0.03;      // both classes, both ratios' classes, and not quite the same moment
constexpr double unread_phase = 0.8;     // a phase that nothing shows against the mean of those that are read
constexpr double load_wander = 0.02;     // of what flows, between the two looks
constexpr double heater_spread = 0.05;   // rated against real power
constexpr int sizes = 24;                // of an unknown change, evenly in the logarithm
constexpr double size_step = 0.12;       // half a step of that row, so that no size falls between
constexpr double smallest_size = 0.003;  // of full load
constexpr double hopeless = 60.0;        // below the best, in natural logarithm

double unit_factor(std::string const& unit) { return unit == "kW" || unit == "kvar" ? 1000.0 : 1.0; }
bool is_reactive(std::string const& unit) { return unit == "var" || unit == "kvar"; }

// Brings a power of the meter's display to the primary side and to import positive.
double display_factor(readings::ReadingSet const& set, std::size_t element) {
    double factor = set.positive_to_grid ? -1.0 : 1.0;
    if (set.side == quantity::Side::primary) return factor;
    auto const at = [&](auto const& list) { return list[std::min(element, list.size() - 1)].factor(); };
    if (!set.ct_planned.empty()) factor *= at(set.ct_planned);
    if (!set.vt_planned.empty()) factor *= at(set.vt_planned);
    return factor;
}

// What all hypotheses share: the volts that were read, and how large the display is.
struct Display {
    std::vector<double> volts;  // per element
    std::vector<double> va;     // per element, volts times amperes
    double total_va = 1.0;
    std::optional<Complex> shown;  // the meter's own total
    double floor_w = 1.0;
};
Display display_of(AnswerBasis const& basis) {
    auto const& model = basis.landings.model;
    Display display;
    auto const rows = primary_elements(basis.set, basis.set.snapshots.back());
    Complex sum = 0.0;
    bool all = true;
    for (std::size_t k = 0; k < model.elements.size(); ++k) {
        double const v = basis.observed.last_volts[k].value_or(basis.set.nominal.v_ln);
        display.volts.push_back(v);
        display.va.push_back(v * basis.observed.last.amps[k].value_or(0.0));
        display.total_va += display.va.back();
        all = all && rows[k].p;
        sum += Complex{rows[k].p ? rows[k].p->value : 0.0, rows[k].q ? rows[k].q->value : 0.0};
    }
    if (all)
        display.shown = sum;
    else if (basis.observed.last.totals)
        display.shown =
            Complex{basis.observed.last.totals->p_w, basis.observed.last.totals->q_var.value_or(0.0)};
    display.floor_w = 0.002 * basis.set.nominal.v_ln * basis.observed.full_load_a + 1.0;
    return display;
}

std::optional<std::size_t> element_on(plan::ServiceModel const& model, std::size_t input) {
    for (std::size_t e = 0; e < model.elements.size(); ++e)
        if (model.elements[e].current_input == static_cast<int>(input)) return e;
    return std::nullopt;
}

// The volts of a conductor as read: nominal, scaled by the mean of all elements against what the tap landing
// predicts.
double supply_scale(AnswerBasis const& basis, TapView const& view, std::vector<double> const& planned_v) {
    double sum = 0.0;
    double count = 0.0;
    for (std::size_t e = 0; e < planned_v.size(); ++e) {
        double const predicted = planned_v[e] * view.relative_size[e];
        if (!view.angle_deg[e] || !basis.observed.last_volts[e] || predicted <= 0.0) continue;
        sum += *basis.observed.last_volts[e] / predicted;
        count += 1.0;
    }
    return count > 0.0 ? sum / count : 1.0;
}

struct LoadRead {
    std::array<std::optional<Complex>, 3> power;  // per path
    double angle_unknown_va = 0.0;                // of paths whose size was read and whose angle was not
};

// The load of every path under a hypothesis, from the last snapshot.
LoadRead load_under(AnswerBasis const& basis, std::size_t h, LagVariant const& lags, double scale) {
    auto const& landings = basis.landings;
    auto const& model = landings.model;
    auto const& current = landings.currents[landings.current_of[h]];
    auto const& ratio = landings.ratios[landings.ratio_of[h]];
    auto const& view = basis.views[landings.tap_of[h]];
    auto const& group = basis.observed.last;
    LoadRead load;
    std::array<std::optional<Complex>, 3> j;
    auto const volts = [&](std::size_t path) {
        return scale * basis.u[static_cast<std::size_t>(model.live[path])];
    };
    for (std::size_t k = 0; k < model.current_inputs.size(); ++k) {
        auto const e = element_on(model, k);
        if (current.path[k] < 0 || !e || !group.amps[*e]) continue;
        auto const path = static_cast<std::size_t>(current.path[k]);
        if (j[path]) continue;
        double const amps = group.flowing[*e] ? *group.amps[*e] / ratio[k] : 0.0;
        if (amps > 0.0 && (!lags.lag_deg[*e] || !view.angle_deg[*e])) {
            double const va = amps * std::abs(volts(path));
            load.angle_unknown_va = std::hypot(load.angle_unknown_va, va);
            load.power[path] = Complex{0.85 * va, 0.3 * va};  // a load of which only the size was read
            continue;
        }
        double const turn = current.sign[k] < 0 ? 180.0 : 0.0;
        double const angle = amps > 0.0 ? *view.angle_deg[*e] - *lags.lag_deg[*e] + turn : 0.0;
        j[path] = std::polar(amps, angle * radians_per_degree);
    }
    std::size_t known = 0;
    Complex sum = 0.0;
    for (auto const& one : j)
        if (one) ++known, sum += *one;
    bool const closes = model.currents_sum_to_zero || model.service == plan::Service::four_wire_two_ct;
    for (std::size_t path = 0; path < model.live.size(); ++path) {
        if (!j[path] && closes && known == 2) j[path] = -sum;
        if (j[path]) load.power[path] = volts(path) * std::conj(*j[path]);
    }
    return load;
}

struct Expected {
    double w = 0.0;
    double sigma = 0.0;
};

// The power that another meter shows of the conductors asked for, in W or var.
Expected expected_power(LoadRead const& load, std::vector<std::size_t> const& paths, bool reactive,
                        double total_va) {
    Expected expected;
    Complex mean = 0.0;
    double read = 0.0;
    for (auto const& one : load.power)
        if (one) mean += *one, read += 1.0;
    mean = read > 0.0 ? mean / read : Complex{0.0, 0.0};
    double va = 0.0;
    for (auto const path : paths) {
        Complex const s = load.power[path].value_or(mean);
        if (!load.power[path])
            expected.sigma =
                std::hypot(expected.sigma, read > 0.0 ? unread_phase * std::abs(mean) : total_va);
        expected.w += reactive ? s.imag() : s.real();
        va += std::abs(s);
    }
    expected.sigma = std::hypot(expected.sigma, two_meters * va + 1.0, 0.3 * load.angle_unknown_va);
    return expected;
}

void weigh_other_power(AnswerBasis const& basis, TestAnswer const& answer, Display const& display,
                       std::vector<double>& log_weight) {
    bool const reactive = is_reactive(answer.unit);
    double value = *answer.value * unit_factor(answer.unit);
    double u = answer.u.value_or(0.0) * unit_factor(answer.unit);
    if (answer.unit == "fraction") {
        if (!display.shown || value == 0.0) return;
        u = std::abs(display.shown->real() / value) * u / std::abs(value);
        value = display.shown->real() / value;
    }
    auto const& model = basis.landings.model;
    std::vector<std::size_t> paths;
    for (auto const conductor : conductors_of(answer, basis.set, model))
        for (std::size_t path = 0; path < model.live.size(); ++path)
            if (model.live[path] == conductor) paths.push_back(path);
    auto const as_planned = wiring::seen_by(wiring::as_planned(model), model);
    std::vector<double> planned_v;
    for (auto const& element : wiring::elements_of(as_planned, basis.u, {}))
        planned_v.push_back(std::abs(element.v));
    std::vector<double> scale;
    for (auto const& view : basis.views) scale.push_back(supply_scale(basis, view, planned_v));
    double const wide = 2.0 * display.total_va + std::abs(value);
    double const best = *std::ranges::max_element(log_weight);
    for (std::size_t h = 0; h < basis.landings.size(); ++h) {
        if (log_weight[h] < best - hopeless) continue;
        double density = 0.0;
        for (auto const& variant : basis.observed.last.lags) {
            auto const load = load_under(basis, h, variant, scale[basis.landings.tap_of[h]]);
            auto const expected = expected_power(load, paths, reactive, display.total_va);
            density += variant.weight * normal_density(value - expected.w, std::hypot(expected.sigma, u));
        }
        log_weight[h] +=
            std::log((1.0 - odd_answer) * density + odd_answer * normal_density(value, wide) + 1e-300);
    }
}

// What the display moved by: per element, or in total alone.
struct Change {
    std::vector<double> each;
    std::optional<double> total;
};
Change change_of(AnswerBasis const& basis, TestAnswer const& answer) {
    Change change;
    double const unit = unit_factor(answer.unit);
    bool const whole = std::ranges::all_of(answer.before_each, [](auto const& v) { return v.has_value(); }) &&
                       std::ranges::all_of(answer.during_each, [](auto const& v) { return v.has_value(); });
    if (!answer.before_each.empty() && whole) {
        for (std::size_t k = 0; k < answer.before_each.size(); ++k)
            change.each.push_back((*answer.during_each[k] - *answer.before_each[k]) * unit *
                                  display_factor(basis.set, k));
    } else if (answer.before && answer.during) {
        change.total = (*answer.during - *answer.before) * unit * display_factor(basis.set, 0);
    }
    return change;
}

// Density of the change for a load of `watts`, known to within `spread`, given what one watt does to every
// element.
double change_density(Change const& change, std::span<MovedPerWatt const> per_watt, double watts,
                      double spread, Display const& display) {
    double product = 1.0;
    double moved = 0.0;
    double variance = 0.0;
    for (std::size_t k = 0; k < per_watt.size(); ++k) {
        double const stray = per_watt[k].stray_a * watts * display.volts[k] / std::numbers::sqrt2;
        double const sigma =
            std::hypot(std::hypot(load_wander * display.va[k], spread * watts), display.floor_w, stray);
        variance += sigma * sigma;
        moved += per_watt[k].w * watts;
        if (change.total) continue;
        product *= (1.0 - odd_answer) * normal_density(change.each[k] - per_watt[k].w * watts, sigma) +
                   odd_answer * normal_density(change.each[k], display.total_va);
    }
    if (!change.total) return product;
    return (1.0 - odd_answer) * normal_density(*change.total - moved, std::sqrt(variance)) +
           odd_answer * normal_density(*change.total, display.total_va);
}

// The size that was told, or a row of sizes that are all as likely.
std::vector<double> possible_watts(AnswerBasis const& basis, TestAnswer const& answer) {
    if (answer.kind == "load_switched" && answer.value && *answer.value > 0.0)
        return {*answer.value * unit_factor(answer.unit)};
    auto const on = conductors_of(answer, basis.set, basis.landings.model).size();
    double const full_w = basis.set.nominal.v_ln * basis.observed.full_load_a * static_cast<double>(on);
    std::vector<double> watts;
    for (int k = 0; k < sizes; ++k)
        watts.push_back(full_w * std::pow(smallest_size, 1.0 - (k + 0.5) / sizes));
    return watts;
}

// How every hypothesis moves for one watt: volts follow from its tap landing, currents from its current
// landing and its ratios, so each half is worked out once. A meter that is set to two elements computes its
// currents otherwise: there the whole is worked out.
class Responses {
public:
    Responses(AnswerBasis const& basis, std::vector<plan::Conductor> conductors)
        : landings_(basis.landings),
          u_(basis.u),
          conductors_(std::move(conductors)),
          planned_tap_(landings_.taps[landings_.tap_of[landings_.planned]]),
          planned_current_(landings_.currents[landings_.current_of[landings_.planned]]),
          of_tap_(landings_.taps.size()),
          of_current_(landings_.currents.size() * landings_.ratios.size()) {
        for (auto const conductor : conductors_) {
            auto const at = static_cast<std::size_t>(conductor);
            if (conductor != plan::Conductor::n && std::abs(u_[at]) > 0.0)
                change_[at] = u_[at] / (std::norm(u_[at]) * static_cast<double>(conductors_.size()));
        }
    }
    [[nodiscard]] std::array<MovedPerWatt, wiring::most_elements> of(std::size_t h) {
        auto const& model = landings_.model;
        std::array<MovedPerWatt, wiring::most_elements> moved{};
        auto const& tap = landings_.taps[landings_.tap_of[h]];
        if (tap.two_elements) {
            auto const whole =
                moved_per_watt(wiring::seen_by(wiring_of(landings_, h), model), model, u_, conductors_);
            std::ranges::copy(whole, moved.begin());
            return moved;
        }
        auto& v = of_tap_[landings_.tap_of[h]];
        auto& i = of_current_[landings_.current_of[h] * landings_.ratios.size() + landings_.ratio_of[h]];
        if (!v) v = half(tap, planned_current_, {1.0, 1.0, 1.0});
        if (!i)
            i = half(planned_tap_, landings_.currents[landings_.current_of[h]],
                     landings_.ratios[landings_.ratio_of[h]]);
        for (std::size_t k = 0; k < model.elements.size(); ++k) {
            if (v->lost[k])
                moved[k].stray_a = std::abs(i->i[k]);
            else
                moved[k].w = (v->v[k] * std::conj(i->i[k])).real();
        }
        return moved;
    }

private:
    struct Half {
        std::array<Complex, wiring::most_elements> v{}, i{};
        std::array<bool, wiring::most_elements> lost{};
    };
    [[nodiscard]] Half half(TapLanding const& tap, CurrentLanding const& current,
                            RatioSetting const& ratio) const {
        auto const seen = wiring::seen_by(wiring_of(landings_.model, tap, current, ratio), landings_.model);
        Half half;
        half.lost = seen.voltage_lost;
        auto const elements = wiring::elements_of(seen, u_, change_);
        for (std::size_t k = 0; k < elements.size(); ++k) {
            half.v[k] = elements[k].v;
            half.i[k] = elements[k].i;
        }
        return half;
    }
    Landings const& landings_;
    plan::SourcePhasors u_;
    std::vector<plan::Conductor> conductors_;
    wiring::Currents change_{};
    TapLanding planned_tap_;
    CurrentLanding planned_current_;
    std::vector<std::optional<Half>> of_tap_, of_current_;
};

void weigh_change(AnswerBasis const& basis, TestAnswer const& answer, Display const& display,
                  std::vector<double>& log_weight) {
    auto const change = change_of(basis, answer);
    if (change.each.empty() && !change.total) return;
    auto const& landings = basis.landings;
    auto const elements = landings.model.elements.size();
    auto const watts = possible_watts(basis, answer);
    double const spread = watts.size() == 1 ? heater_spread : size_step;
    Responses responses(basis, conductors_of(answer, basis.set, landings.model));
    // Few different responses are shared by many hypotheses: each density is worked out once.
    std::map<std::array<long long, 2 * wiring::most_elements>, double> known;
    double const best = *std::ranges::max_element(log_weight);
    for (std::size_t h = 0; h < landings.size(); ++h) {
        if (log_weight[h] < best - hopeless) continue;
        auto const moved = responses.of(h);
        std::array<long long, 2 * wiring::most_elements> key{};
        for (std::size_t k = 0; k < elements; ++k) {
            key[2 * k] = std::llround(moved[k].w * 1e6);
            key[2 * k + 1] = std::llround(moved[k].stray_a * 1e8);
        }
        auto const [entry, is_new] = known.try_emplace(key, 0.0);
        if (is_new) {
            double density = 0.0;
            for (double const size : watts)
                density += change_density(change, {moved.data(), elements}, size, spread, display) /
                           static_cast<double>(watts.size());
            entry->second = std::log(density + 1e-300);
        }
        log_weight[h] += entry->second;
    }
}
}  // namespace

bool is_other_power(TestAnswer const& answer) { return answer.kind == "other_meter" && answer.value; }

bool is_power_change(TestAnswer const& answer) {
    bool const pair = (answer.before && answer.during) || !answer.before_each.empty();
    return pair && (answer.kind == "load_switched" || answer.kind == "generation_stopped");
}

std::vector<plan::Conductor> conductors_of(TestAnswer const& answer, readings::ReadingSet const& set,
                                           plan::ServiceModel const& model) {
    if (answer.at_what == "conductor")
        if (auto const one = plan::conductor_of(answer.at)) return {*one};
    if (answer.at_what == "branch")
        for (auto const& branch : set.model_options.branches)
            if (branch.id == answer.at) return {branch.phase};
    return model.live;
}

std::vector<MovedPerWatt> moved_per_watt(wiring::Seen const& seen, plan::ServiceModel const& model,
                                         plan::SourcePhasors const& u,
                                         std::vector<plan::Conductor> const& conductors) {
    wiring::Currents change{};
    for (auto const conductor : conductors) {
        if (conductor == plan::Conductor::n) continue;
        auto const at = static_cast<std::size_t>(conductor);
        if (std::abs(u[at]) > 0.0)
            change[at] = u[at] / (std::norm(u[at]) * static_cast<double>(conductors.size()));
    }
    auto const elements = wiring::elements_of(seen, u, change);
    std::vector<MovedPerWatt> moved;
    for (std::size_t k = 0; k < model.elements.size(); ++k) {
        if (seen.voltage_lost[k])
            moved.push_back({.stray_a = std::abs(elements[k].i)});
        else
            moved.push_back({.w = elements[k].s.real()});
    }
    return moved;
}

void weigh_powers(AnswerBasis const& basis, std::vector<double>& log_weight) {
    std::optional<Display> display;
    for (auto const& answer : basis.set.tests) {
        bool const other = is_other_power(answer);
        if (!other && !is_power_change(answer)) continue;
        if (!display) display = display_of(basis);
        if (other)
            weigh_other_power(basis, answer, *display, log_weight);
        else
            weigh_change(basis, answer, *display, log_weight);
    }
}

}  // namespace phasewright::diagnosis
