// Voltage transformers, where the meter does not bear the panel's voltage: rated primary not below the line
// voltage and nearest to it, secondary within the meter's inputs, rated output for them; the narrowest class
// first.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/design/choose_meter.hpp"
#include "core/design/words.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::design {

namespace {
std::string volts(double value) { return quantity::shortest(std::round(value * 10.0) / 10.0) + " V"; }
std::string vt_words(VtOffer const& offer) {
    auto words =
        quantity::shortest(offer.ratio.primary) + "/" + quantity::shortest(offer.ratio.secondary) + " V";
    if (!offer.vt.accuracy_class.empty()) words += ", class " + offer.vt.accuracy_class;
    return words + " (" + (offer.maker.empty() ? "" : offer.maker + " ") + offer.vt.model + ")";
}

std::string against(VtOffer const& offer, plan::MeterHardware const& meter, double v_ll) {
    if (offer.ratio.primary < v_ll * (1.0 - 1e-9))
        return "its primary is rated below the line voltage of " + volts(v_ll);
    double const seen = v_ll / offer.ratio.factor();
    auto const& inputs = *meter.voltage_inputs;
    if (inputs.most_ll && seen > *inputs.most_ll)
        return "it gives " + volts(seen) + ", and the meter bears " + volts(*inputs.most_ll);
    if (inputs.least_ll && seen < *inputs.least_ll)
        return "it gives " + volts(seen) + ", and the meter's accuracy begins at " + volts(*inputs.least_ll);
    double const needed = inputs.burden_va.value_or(0.0);
    if (offer.vt.burden_va && needed > *offer.vt.burden_va)
        return "the meter's input takes more than its " + quantity::shortest(*offer.vt.burden_va) + " VA";
    return {};
}
}  // namespace

std::string against_direct_voltage(plan::MeterHardware const& meter, plan::Service service,
                                   plan::ModelOptions const& options, plan::Nominal const& nominal) {
    if (!meter.voltage_inputs) return {};
    auto const& inputs = *meter.voltage_inputs;
    auto const model = plan::model_of(service, options);
    double most_ln = nominal.v_ln;
    for (auto const conductor : model.terminals)
        if (service == plan::Service::high_leg_delta && conductor == model.high_leg)
            most_ln = std::max(most_ln, nominal.v_ll * std::numbers::sqrt3 / 2.0);
    if (model.has_neutral && inputs.most_ln && most_ln > *inputs.most_ln * (1.0 + 1e-9))
        return volts(most_ln) + " to neutral are above the meter's " + volts(*inputs.most_ln);
    if (!model.line_pairs.empty() && inputs.most_ll && nominal.v_ll > *inputs.most_ll * (1.0 + 1e-9))
        return volts(nominal.v_ll) + " between lines are above the meter's " + volts(*inputs.most_ll);
    if (!model.line_pairs.empty() && inputs.least_ll && nominal.v_ll < *inputs.least_ll)
        return volts(nominal.v_ll) + " between lines are below the " + volts(*inputs.least_ll) +
               " at which its accuracy begins";
    return {};
}

VtRanking rank_vts(plan::MeterHardware const& meter, plan::Nominal const& nominal, Catalogue const& catalogue,
                   Settings const& settings) {
    VtRanking ranking;
    if (!meter.voltage_inputs) return ranking;
    double const v_ll = nominal.v_ll > 0.0 ? nominal.v_ll : nominal.v_ln;
    std::vector<VtOffer const*> fit;
    for (auto const& offer : catalogue.vts) {
        auto why = against(offer, meter, v_ll);
        if (why.empty())
            fit.push_back(&offer);
        else if (ranking.others.size() < settings.others)
            ranking.others.push_back({vt_words(offer), std::move(why)});
    }
    std::ranges::stable_sort(fit, [](VtOffer const* a, VtOffer const* b) {
        if (a->ratio.primary != b->ratio.primary) return a->ratio.primary < b->ratio.primary;
        if (a->vt.accuracy_class != b->vt.accuracy_class) return a->vt.accuracy_class < b->vt.accuracy_class;
        return a->vt.model < b->vt.model;
    });
    if (fit.empty()) return ranking;
    ranking.best = fit.front();
    ranking.reasons.push_back("its primary is the lowest of the catalogue that is not below " + volts(v_ll));
    ranking.reasons.push_back("it gives the meter " + volts(v_ll / fit.front()->ratio.factor()) +
                              " between lines, within its inputs");
    for (std::size_t k = fit.size(); k-- > 1;)
        ranking.others.insert(ranking.others.begin(),
                              {vt_words(*fit[k]), "its primary is higher or its class wider"});
    ranking.others.resize(std::min(ranking.others.size(), settings.others));
    return ranking;
}

}  // namespace phasewright::design
