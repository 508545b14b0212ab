#include "core/chain/point_chain.hpp"

#include <algorithm>
#include <cmath>

#include "core/quantity/text.hpp"

namespace phasewright::chain {

namespace {
constexpr double usual_factor = 0.8;  // where nothing is said: a motor's, on the careful side

ClassTables const& tables_of(Assumptions const& assumptions) {
    return assumptions.tables != nullptr ? *assumptions.tables : built_in_tables();
}

template <class Class>
std::optional<Class> copied(Class const* found) {
    return found == nullptr ? std::nullopt : std::optional<Class>{*found};
}

void take_ct(PointChain& chain, plan::CurrentTransformer const& ct, Assumptions const& assumptions) {
    auto const& word = ct.accuracy_class.empty() ? assumptions.ct_class : ct.accuracy_class;
    chain.ct = copied(ct_class(tables_of(assumptions), word));
    if (ct.accuracy_class.empty() && !word.empty())
        chain.assumed.push_back("current transformers of class " + word);
    chain.ct_primary_a = ct.ratio.primary;
    chain.ct_secondary = ct.ratio.secondary;
    chain.most_percent = ct.most_percent;
}

void take_meter(PointChain& chain, plan::CurrentTransformer const& ct, plan::MeterHardware const* meter,
                Assumptions const& assumptions) {
    auto const& tables = tables_of(assumptions);
    if (meter != nullptr) chain.meter = copied(meter_class(tables, *meter));
    if (!chain.meter && !assumptions.meter_class.empty()) {
        chain.meter = copied(meter_class(tables, assumptions.meter_standard, assumptions.meter_class));
        chain.assumed.push_back("a meter of class " + assumptions.meter_class + " of " +
                                assumptions.meter_standard);
    }
    auto const* const input = meter == nullptr ? nullptr : plan::input_for(*meter, ct.output);
    chain.output_fits = meter == nullptr || meter->current_inputs.empty() || input != nullptr;
    chain.input_rated = input == nullptr ? ct.ratio.secondary : input->rated;
    if (input != nullptr && input->most) chain.input_most_share = *input->most / input->rated;
}

void take_loop(PointChain& chain, plan::MeteringPoint const& point, plan::CurrentInput const* input,
               Assumptions const& assumptions) {
    auto const burden =
        burden_of(point.ct, point.lead, input, assumptions.contacts_ohm, tables_of(assumptions));
    bool const all_known = burden.leads_va && burden.contacts_va && burden.meter_va;
    chain.rated_va = burden.rated_va;
    if (all_known || burden.state == BurdenState::over) chain.burden_va = burden.total_va;
    chain.assumed.insert(chain.assumed.end(), burden.assumed.begin(), burden.assumed.end());
    if (!chain.burden_va || !chain.rated_va)
        chain.assumed.emplace_back("a burden within the range that the class holds for");
}

void take_voltage_output(PointChain& chain, plan::MeteringPoint const& point, plan::CurrentInput const* input,
                         Assumptions const& assumptions) {
    if (point.ct.output == plan::CtOutput::coil) {
        auto const coil = coil_circuit(point.ct, point.lead, input, chain.nominal.hz, std::nullopt);
        chain.loading_percent = coil.loading_percent;
        chain.assumed.insert(chain.assumed.end(), coil.assumed.begin(), coil.assumed.end());
        return;
    }
    PickUp beside{.current_a = point.ct.ratio.primary, .hz = chain.nominal.hz, .lay_mm = assumptions.lay_mm};
    if (point.lead) beside.parallel_m = point.lead->length_m;
    auto const circuit = voltage_circuit(point.ct, point.lead, input, assumptions.source_ohm, beside);
    chain.loading_percent = circuit.loading_percent;
    chain.pick_up = point.lead ? circuit.pick_up_percent / 100.0 : 0.0;
    chain.assumed.insert(chain.assumed.end(), circuit.assumed.begin(), circuit.assumed.end());
    if (point.lead)
        chain.assumed.emplace_back(assumptions.lay_mm ? "twisted leads" : "leads that are not twisted");
    if (circuit.source_left_out) chain.assumed.emplace_back("a transformer without source resistance");
}

// Errors of one kind at all their limits, one entry an instrument: of active energy, in percent.
using Each = std::array<double, most_in_a_meter>;

struct Sums {
    Each ct_first{}, ct_second{}, vt_first{}, vt_second{};
    double meter = 0.0;
    double pick_up = 0.0;
    Citation ct_source, vt_source, meter_source;
};

// Ratio and phase limits as two errors that know nothing of each other, in percent of the power `s` that
// hangs on it. `leading` is +1 where a leading secondary raises active power for a lagging load (CT), -1
// where it lowers it (VT). In a parallelogram these two are RCF and TCF.
std::pair<double, double> two_errors(TransformerLimits const& limits, std::complex<double> s,
                                     double leading) {
    double const ratio = limits.ratio_percent.value_or(0.0);
    if (limits.shape == LimitShape::parallelogram) {
        double const turned = s.imag() * minutes_of_parallelogram * crad_per_minute / 100.0;
        return {(turned - s.real()) * ratio, -turned * ratio};
    }
    return {s.real() * ratio, leading * s.imag() * limits.phase_min.value_or(0.0) * crad_per_minute};
}

void weaken(Citation& to, Citation const& from) {
    bool const weaker = to.standard.empty() || (may_judge(to) && !may_judge(from));
    if (weaker) to = from;
}

std::optional<Silent> why_silent(PointChain const& chain, LimitsOfChain const& limits,
                                 LoadPoint const& load) {
    auto const silent = [&](Part part, NotStated why) {
        return Silent{part, why, load.current_a, load.power_factor};
    };
    if (!limits.ct.ratio_percent) return silent(Part::ct_ratio, limits.ct.why);
    bool const turned = load.power_factor < 0.9999 || chain.model.elements.size() == 2;
    if (limits.ct.why == NotStated::no_phase_limit && turned) return silent(Part::ct_phase, limits.ct.why);
    if (chain.has_vt && !limits.vt.ratio_percent) return silent(Part::vt_ratio, limits.vt.why);
    if (chain.has_vt && limits.vt.why == NotStated::no_phase_limit && turned)
        return silent(Part::vt_phase, limits.vt.why);
    if (!limits.meter.percent) return silent(Part::meter, limits.meter.why);
    return std::nullopt;
}

void add_load(Sums& sums, PointChain const& chain, LimitsOfChain const& limits, LoadPoint const& load,
              double weight) {
    auto const shares = load_shares(chain.model, chain.nominal, lag_of_load(load));
    double size = 0.0;
    for (std::size_t j = 0; j < shares.inputs; ++j) {
        auto const s = shares.of_input(j);
        auto const [first, second] = two_errors(limits.ct, s, 1.0);
        sums.ct_first[j] += weight * first;
        sums.ct_second[j] += weight * second;
        size += std::abs(s);
    }
    for (std::size_t k = 0; chain.has_vt && k < shares.elements; ++k) {
        auto const [first, second] = two_errors(limits.vt, shares.of_element(k), -1.0);
        sums.vt_first[k] += weight * first;
        sums.vt_second[k] += weight * second;
    }
    sums.meter += weight * limits.meter.percent.value_or(0.0);
    sums.pick_up += weight * 100.0 * chain.pick_up * size;
    weaken(sums.ct_source, limits.ct.source);
    weaken(sums.vt_source, limits.vt.source);
    weaken(sums.meter_source, limits.meter.source);
}

Contribution several(Part part, Each const& limits, double correlation, Citation const& source) {
    Each u{};
    Contribution of{.part = part, .source = source};
    for (std::size_t n = 0; n < limits.size(); ++n) {
        u[n] = limits[n] / rectangular_divisor;
        of.limit_percent += std::abs(limits[n]);
    }
    of.u_percent = combined_alike(u, correlation);
    if (correlation >= 1.0) of.limit_percent = rectangular_divisor * of.u_percent;
    return of;
}

std::vector<Contribution> contributions(PointChain const& chain, Sums const& sums) {
    double const alike = chain.assumptions.correlation;
    std::vector<Contribution> parts{
        several(Part::ct_ratio, sums.ct_first, alike, sums.ct_source),
        several(Part::ct_phase, sums.ct_second, alike, sums.ct_source),
        {Part::meter, sums.meter, u_of_rectangular(sums.meter), 0.0, sums.meter_source}};
    if (chain.has_vt) {
        parts.push_back(several(Part::vt_ratio, sums.vt_first, alike, sums.vt_source));
        parts.push_back(several(Part::vt_phase, sums.vt_second, alike, sums.vt_source));
    }
    if (chain.loading_percent) {
        double const limit = std::abs(*chain.loading_percent);
        parts.push_back({Part::loading,
                         limit,
                         u_of_rectangular(limit),
                         0.0,
                         {"divider", "", "", plan::Footing::derived}});
    }
    if (sums.pick_up > 0.0)
        parts.push_back({Part::pick_up,
                         sums.pick_up,
                         u_of_rectangular(sums.pick_up),
                         0.0,
                         {"Faraday's law", "", "", plan::Footing::derived}});
    return parts;
}
}  // namespace

quantity::Degrees lag_of_load(LoadPoint const& load) { return lag_of(load.power_factor, load.leading); }

PointChain chain_of(plan::MeteringPoint const& point, plan::Nominal const& nominal,
                    plan::MeterHardware const* meter, Assumptions const& assumptions) {
    PointChain chain{.model = plan::model_of(point.service, point.model_options),
                     .nominal = nominal,
                     .assumptions = assumptions};
    take_ct(chain, point.ct, assumptions);
    take_meter(chain, point.ct, meter, assumptions);
    auto const* const input = meter == nullptr ? nullptr : plan::input_for(*meter, point.ct.output);
    using enum plan::CtOutput;
    if (point.ct.output == five_amperes || point.ct.output == one_ampere)
        take_loop(chain, point, input, assumptions);
    if (point.ct.output == millivolts || point.ct.output == coil)
        take_voltage_output(chain, point, input, assumptions);
    chain.has_vt = point.vt || point.vt_made;
    if (chain.has_vt) {
        if (point.vt_made) chain.vt = copied(vt_class(tables_of(assumptions), point.vt_made->accuracy_class));
        chain.assumed.emplace_back("voltage transformers within their rated burden, one for each element");
    }
    if (!point.power_factor)
        chain.assumed.push_back("power factor " + quantity::shortest(usual_power_factor(point, assumptions)));
    if (chain.model.current_inputs.size() > 1) {
        auto const alike = assumptions.correlation;
        chain.assumed.push_back(alike >= 1.0 ? "current transformers of one type that err alike"
                                : alike <= 0.0
                                    ? "current transformers that err independently"
                                    : "current transformers correlated by " + quantity::shortest(alike));
        chain.assumed.emplace_back("a load alike on all phases");
    }
    return chain;
}

double usual_power_factor(plan::MeteringPoint const& point, Assumptions const& assumptions) {
    if (point.power_factor) return *point.power_factor;
    if (assumptions.power_factor) return *assumptions.power_factor;
    return point.load_kind == plan::LoadKind::resistive ? 1.0 : usual_factor;
}

LoadPoint load_at(plan::MeteringPoint const& point, double current_a, Assumptions const& assumptions) {
    return {1.0, current_a, usual_power_factor(point, assumptions),
            point.load_kind == plan::LoadKind::capacitive};
}

LimitsOfChain limits_at(PointChain const& chain, LoadPoint const& load) {
    LimitsOfChain limits;
    double const share = load.current_a / chain.ct_primary_a;
    limits.ct.why = limits.vt.why = limits.meter.why = NotStated::no_class;
    if (chain.ct)
        limits.ct = limits_at(*chain.ct, {share, chain.burden_va, chain.rated_va, chain.most_percent},
                              chain.assumptions.between);
    if (chain.vt) limits.vt = limits_at(*chain.vt, {}, chain.assumptions.between);
    if (chain.meter)
        limits.meter =
            limit_at(*chain.meter, {.share_of_rated = share * chain.ct_secondary / chain.input_rated,
                                    .power_factor = load.power_factor,
                                    .leading = load.leading,
                                    .temperature_c = chain.assumptions.temperature_c,
                                    .most_share = chain.input_most_share});
    return limits;
}

Reckoned budget_at(PointChain const& chain, std::span<LoadPoint const> loads) {
    double energy = 0.0;
    for (auto const& load : loads) energy += load.share_of_time * load.current_a * load.power_factor;
    Sums sums;
    for (auto const& load : loads) {
        double const own = load.share_of_time * load.current_a * load.power_factor;
        if (own <= 0.0) continue;
        auto const limits = limits_at(chain, load);
        if (auto const silent = why_silent(chain, limits, load)) return {std::nullopt, silent};
        add_load(sums, chain, limits, load, own / energy);
    }
    if (energy <= 0.0) return {std::nullopt, Silent{Part::ct_ratio, NotStated::below_lowest, 0.0, 1.0}};
    return {budget_of(contributions(chain, sums), chain.assumptions.coverage_factor), std::nullopt};
}

std::vector<double> bends_of(PointChain const& chain) {
    std::vector<double> bends;
    if (chain.ct) {
        for (auto const& point : chain.ct->points)
            bends.push_back(point.percent / 100.0 * chain.ct_primary_a);
        if (chain.most_percent) bends.push_back(*chain.most_percent / 100.0 * chain.ct_primary_a);
    }
    if (chain.meter) {
        double const rated = chain.ct_primary_a * chain.input_rated / chain.ct_secondary;
        for (auto const& row : chain.meter->rows) bends.push_back(row.from * rated);
        if (chain.input_most_share) bends.push_back(*chain.input_most_share * rated);
    }
    std::ranges::sort(bends);
    bends.erase(std::ranges::unique(bends).begin(), bends.end());
    return bends;
}

}  // namespace phasewright::chain
