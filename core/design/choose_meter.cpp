#include "core/design/choose_meter.hpp"

#include <algorithm>
#include <cmath>

#include "core/design/words.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::design {

namespace {
constexpr double rank_step_percent = 0.05;

template <class List, class Value>
bool has(List const& list, Value const& value) {
    return std::ranges::find(list, value) != list.end();
}

std::string against_service(MeterOffer const& offer, plan::MeteringPoint const& point) {
    auto const code = std::string{plan::code_of(point.service)};
    auto const model = plan::model_of(point.service, point.model_options);
    bool const listed =
        has(offer.services, point.service) ||
        (point.model_options.branches.size() > 1 && has(offer.services, plan::Service::four_wire_wye));
    if (!offer.services.empty() && !listed) return "it cannot be set to the service " + code;
    auto const inputs = static_cast<int>(model.current_inputs.size());
    if (offer.current_inputs < inputs)
        return "the service " + code + " needs " + std::to_string(inputs) + " current inputs, and it has " +
               std::to_string(offer.current_inputs);
    return {};
}

std::string against_bus(MeterOffer const& offer, MeterNeed const& need) {
    if (!offer.hardware.bus || need.point->to_choose.address) return {};
    auto const& bus = *offer.hardware.bus;
    bool const on_line = !need.point->address.serial_line.empty();
    if (on_line && bus.kind == plan::BusKind::ethernet)
        return "it has no serial port, and its place is on a serial line";
    if (!on_line && need.point->address.gateway.empty() && bus.kind == plan::BusKind::serial)
        return "it has no Ethernet, and its address is a host of its own";
    if (need.line == nullptr) return {};
    auto const& format = need.line->format;
    auto const words = plan::words_of(format);
    if (!bus.bit_rates.empty() && !has(bus.bit_rates, format.bit_rate))
        return "it cannot be set to the line's " + words;
    if (!bus.parities.empty() && !has(bus.parities, format.parity))
        return "it cannot be set to the line's " + words;
    if (!bus.stop_bits.empty() && !has(bus.stop_bits, format.stop_bits))
        return "it cannot be set to the line's " + words;
    return {};
}

std::string against_place(MeterOffer const& offer, plan::Panel const& panel) {
    if (!offer.hardware.limits || !panel.enclosure) return {};
    auto const& limits = *offer.hardware.limits;
    auto const& box = *panel.enclosure;
    if (limits.temperature_c && box.temperature_c &&
        (box.temperature_c->least < limits.temperature_c->least ||
         box.temperature_c->most > limits.temperature_c->most))
        return "the panel is between " + quantity::shortest(box.temperature_c->least) + " and " +
               quantity::shortest(box.temperature_c->most) + " °C, and it bears " +
               quantity::shortest(limits.temperature_c->least) + " to " +
               quantity::shortest(limits.temperature_c->most) + " °C";
    if (limits.humidity_percent && box.humidity_percent && *box.humidity_percent > *limits.humidity_percent)
        return "the panel reaches " + quantity::shortest(*box.humidity_percent) +
               " % humidity, and it bears " + quantity::shortest(*limits.humidity_percent) + " %";
    return {};
}

std::string against_supply(MeterOffer const& offer, plan::ControlSupply const* supply) {
    if (supply == nullptr || !offer.hardware.supply) return {};
    auto const& own = *offer.hardware.supply;
    auto const& range = supply->kind == plan::CurrentKind::ac ? own.ac_v : own.dc_v;
    if (own.kind == plan::SupplyKind::voltage_inputs) return {};
    if (!range || supply->volts < range->least || supply->volts > range->most)
        return "it does not live on the " + quantity::shortest(supply->volts) + " V " +
               std::string{plan::name_of(supply->kind)} + " of the supply that is decided";
    return {};
}

std::optional<EnergyBound> bound_with(plan::CurrentTransformer const& ct, MeterOffer const& offer,
                                      LoadProfile const& load) {
    auto const& tables = chain::built_in_tables();
    auto const* const input = plan::input_for(offer.hardware, ct.output);
    double const share = input != nullptr && input->rated > 0.0 ? ct.ratio.secondary / input->rated : 1.0;
    return energy_bound({.ct = chain::ct_class(tables, ct.accuracy_class),
                         .meter = chain::meter_class(tables, offer.hardware),
                         .rated_primary_a = ct.ratio.primary,
                         .most_percent = ct.most_percent,
                         .meter_share = share},
                        load);
}

// Fills the choice, or says what speaks against it.
std::string against_transformers(MeterOffer const& offer, MeterNeed const& need, Catalogue const& catalogue,
                                 Settings const& settings, MeterChoice& choice) {
    if (!need.point->to_choose.ct) {
        auto const& ct = need.point->ct;
        auto const* const input = plan::input_for(offer.hardware, ct.output);
        if (input == nullptr && ct.output != plan::CtOutput::unknown)
            return "its inputs do not take the CTs that are decided, " + ratio_words(ct);
        if (input != nullptr && std::abs(ct.ratio.secondary - input->rated) > 0.01 * input->rated)
            return "its inputs are rated otherwise than the CTs that are decided, " + ratio_words(ct);
        if (need.load) choice.bound = bound_with(ct, offer, *need.load);
        return {};
    }
    if (!need.load) return {};
    choice.cts = rank_cts({.point = need.point,
                           .panel = need.panel,
                           .breaker_a = need.breaker_a,
                           .load = *need.load,
                           .meter = &offer.hardware,
                           .first_commissioning = need.first_commissioning,
                           .sizes = need.sizes},
                          catalogue, settings);
    if (!choice.cts->best)
        return choice.cts->others.empty()
                   ? "no CT of the catalogue suits it"
                   : "no CT of the catalogue suits it; of " + choice.cts->others.front().choice + ": " +
                         choice.cts->others.front().because;
    choice.bound = choice.cts->best->bound;
    return {};
}

std::string against(MeterOffer const& offer, MeterNeed const& need, Catalogue const& catalogue,
                    Settings const& settings, MeterChoice& choice) {
    for (auto const& why : {against_service(offer, *need.point), against_bus(offer, need),
                            against_place(offer, *need.panel), against_supply(offer, need.supply)})
        if (!why.empty()) return why;
    auto const direct = against_direct_voltage(offer.hardware, need.point->service, need.point->model_options,
                                               need.panel->nominal);
    if (!direct.empty() && !need.point->vt) {
        choice.vt = rank_vts(offer.hardware, need.panel->nominal, catalogue, settings).best;
        if (choice.vt == nullptr) return direct + ", and the catalogue has no voltage transformer for it";
    }
    return against_transformers(offer, need, catalogue, settings, choice);
}

struct Rank {
    bool misses = false;  // the accuracy that is wanted
    bool behind_vt = false;
    double bound = 1e12;
    bool is_new = false;
    double va = 0.0;
    std::string profile;
    friend auto operator<=>(Rank const&, Rank const&) = default;
};

double needed_va(MeterOffer const& offer) {
    auto const& supply = offer.hardware.supply;
    if (!supply || supply->kind == plan::SupplyKind::voltage_inputs) return 0.0;
    return supply->power_va.value_or(supply->power_w.value_or(0.0));
}
Rank rank_of(MeterChoice const& choice, MeterNeed const& need) {
    auto const& wanted = need.point->accuracy_percent;
    return {.misses = wanted && (!choice.bound || choice.bound->usual_percent > *wanted),
            .behind_vt = choice.vt != nullptr,
            .bound = choice.bound ? std::round(choice.bound->over_load_percent / rank_step_percent) : 1e12,
            .is_new = need.in_use != nullptr && !need.in_use->contains(choice.offer->profile),
            .va = needed_va(*choice.offer),
            .profile = choice.offer->profile};
}

// Why the other one stands behind: the first thing in which they differ.
std::string behind(Rank const& first, Rank const& other, MeterChoice const& choice) {
    if (other.misses != first.misses) return "it misses the accuracy that is wanted";
    if (other.behind_vt != first.behind_vt) return "it would need voltage transformers";
    if (other.bound != first.bound)
        return choice.bound
                   ? "the energy of this load could be wrong by " + percent(choice.bound->over_load_percent)
                   : "no limit of its error is known";
    if (other.is_new != first.is_new) return "no point of the site has it yet";
    if (other.va != first.va) return "it takes " + quantity::shortest(other.va) + " VA of control supply";
    return "it is as good; the names decide";
}

void add_reasons(MeterChoice& choice, MeterNeed const& need) {
    auto const& point = *need.point;
    auto const model = plan::model_of(point.service, point.model_options);
    choice.reasons.push_back("it can be set to " + std::string{plan::code_of(point.service)} +
                             " and has the " + std::to_string(model.elements.size()) +
                             (model.elements.size() == 1 ? " element" : " elements") +
                             " that this service needs");
    choice.reasons.emplace_back(choice.vt == nullptr
                                    ? "its inputs bear the panel's voltage directly"
                                    : "its inputs are behind voltage transformers: " +
                                          against_direct_voltage(choice.offer->hardware, point.service,
                                                                 point.model_options, need.panel->nominal));
    if (choice.bound)
        choice.reasons.push_back("with the best CT for it the energy of this load is wrong by " +
                                 percent(choice.bound->over_load_percent) + " at most, by the classes");
    if (point.accuracy_percent && choice.bound)
        choice.reasons.push_back(percent(choice.bound->usual_percent) + " at the usual load " +
                                 (choice.bound->usual_percent > *point.accuracy_percent ? "miss" : "meet") +
                                 " the " + percent(*point.accuracy_percent) + " that are wanted");
}
}  // namespace

MeterRanking rank_meters(MeterNeed const& need, std::vector<MeterOffer const*> const& offers,
                         Catalogue const& catalogue, Settings const& settings) {
    MeterRanking ranking;
    std::vector<std::pair<Rank, MeterChoice>> fit;
    std::vector<NotChosen> refused;
    for (auto const* const offer : offers) {
        MeterChoice choice{.offer = offer};
        auto why = against(*offer, need, catalogue, settings, choice);
        if (!why.empty())
            refused.push_back({offer->name, std::move(why)});
        else
            fit.emplace_back(rank_of(choice, need), std::move(choice));
    }
    std::ranges::stable_sort(fit, [](auto const& a, auto const& b) { return a.first < b.first; });
    for (std::size_t k = 1; k < fit.size() && ranking.others.size() < settings.others; ++k)
        ranking.others.push_back(
            {fit[k].second.offer->name, behind(fit.front().first, fit[k].first, fit[k].second)});
    for (auto const& one : refused)
        if (ranking.others.size() < settings.others) ranking.others.push_back(one);
    if (fit.empty()) return ranking;
    ranking.best = std::move(fit.front().second);
    add_reasons(*ranking.best, need);
    return ranking;
}

}  // namespace phasewright::design
