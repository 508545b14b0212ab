#include "core/design/choose_supply.hpp"

#include <algorithm>
#include <cmath>

#include "core/chain/lead.hpp"
#include "core/design/choose_ct.hpp"
#include "core/design/words.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::design {

namespace {
constexpr double panel_fuse_a = 2.0;  // of a panel's own control supply; an engineering choice of ours

std::string va(double value) { return quantity::shortest(std::round(value * 10.0) / 10.0) + " VA"; }
std::string supply_words(plan::ControlSupply const& supply) {
    return supply.name + ", " + quantity::shortest(supply.volts) + " V " +
           std::string{plan::name_of(supply.kind)};
}

// Whether the meter's terminals take these volts.
bool lives_on(plan::MeterSupply const& own, plan::CurrentKind kind, double volts) {
    bool const ac = kind == plan::CurrentKind::ac;
    if (ac && own.kind == plan::SupplyKind::dc) return false;
    if (!ac && own.kind == plan::SupplyKind::ac) return false;
    auto const& range = ac ? own.ac_v : own.dc_v;
    return range && volts >= range->least && volts <= range->most;
}
}  // namespace

MeterSupplyNeed needed_by(plan::MeterHardware const& meter) {
    if (!meter.supply || meter.supply->kind == plan::SupplyKind::voltage_inputs) return {};
    return {meter.supply->power_va.value_or(meter.supply->power_w.value_or(0.0)), meter.supply->inrush_a};
}

void Supplies::count(plan::MeteringPoint const& point, plan::MeterHardware const* meter) {
    if (!point.supply || point.supply->supply.empty() || meter == nullptr) return;
    auto const need = needed_by(*meter);
    auto& loaded = loaded_[point.supply->supply];
    loaded.va += need.va;
    loaded.inrush_a += need.inrush_a.value_or(0.0);
    loaded.has_unisolated = loaded.has_unisolated || (meter->supply && !meter->supply->isolated_from_bus);
    ++loaded.meters;
}

std::string Supplies::against(plan::ControlSupply const& supply, plan::MeterHardware const& meter,
                              MeterSupplyNeed const& need) const {
    auto const& own = *meter.supply;
    if (!lives_on(own, supply.kind, supply.volts))
        return "the meter does not live on " + quantity::shortest(supply.volts) + " V " +
               std::string{plan::name_of(supply.kind)};
    auto const found = loaded_.find(supply.id);
    auto const loaded = found == loaded_.end() ? Loaded{} : found->second;
    if (supply.kind == plan::CurrentKind::ac && loaded.meters > 0 &&
        (!own.isolated_from_bus || loaded.has_unisolated))
        return "sharing ac among meters that are not isolated from their bus can close a loop through its "
               "common";
    if (!supply.available_va) return "the plan does not say what it gives";
    double const wanted = settings_.supply_margin * (loaded.va + need.va);
    if (wanted > *supply.available_va)
        return "with a quarter to spare " + va(wanted) + " would hang on its " + va(*supply.available_va);
    if (supply.inrush_a && need.inrush_a && loaded.inrush_a + *need.inrush_a > *supply.inrush_a)
        return "the inrush of all its meters together would be " + amps(loaded.inrush_a + *need.inrush_a) +
               ", and it gives " + amps(*supply.inrush_a);
    return {};
}

std::string Supplies::free_id(std::string const& wanted) const {
    auto const taken = [&](std::string const& id) {
        return std::ranges::any_of(site_.supplies, [&](auto const& one) { return one.id == id; });
    };
    auto stem = wanted.substr(0, 36);
    if (!taken(stem)) return stem;
    for (int k = 2;; ++k)
        if (auto id = stem + "-" + std::to_string(k); !taken(id)) return id;
}

std::optional<plan::ControlSupply> Supplies::from_panel(plan::Panel const& panel,
                                                        plan::MeterHardware const& meter,
                                                        MeterSupplyNeed const& need) const {
    if (!meter.supply->isolated_from_bus) return std::nullopt;
    for (double const volts : {panel.nominal.v_ln, panel.nominal.v_ll}) {
        if (volts <= 0.0 || !lives_on(*meter.supply, plan::CurrentKind::ac, volts)) continue;
        double const fuse = std::min(panel_fuse_a, meter.supply->fuse_a.value_or(panel_fuse_a));
        if (settings_.supply_margin * need.va > fuse * volts) continue;
        return plan::ControlSupply{.id = free_id(panel.id + "-control"),
                                   .name = panel.name + ", own voltage",
                                   .source = "a fused way of the panel",
                                   .panel = panel.id,
                                   .way = {},
                                   .kind = plan::CurrentKind::ac,
                                   .volts = volts,
                                   .available_va = fuse * volts,
                                   .fuse_a = fuse};
    }
    return std::nullopt;
}

std::optional<plan::ControlSupply> Supplies::from_catalogue(plan::Panel const& panel,
                                                            plan::MeterHardware const& meter,
                                                            MeterSupplyNeed const& need,
                                                            std::string& words) const {
    SupplyOffer const* best = nullptr;
    for (auto const& offer : catalogue_.supplies) {
        bool const fed =
            (panel.nominal.v_ln >= offer.input_v.least && panel.nominal.v_ln <= offer.input_v.most) ||
            (panel.nominal.v_ll >= offer.input_v.least && panel.nominal.v_ll <= offer.input_v.most);
        bool const gives = settings_.supply_margin * need.va <= offer.available_va &&
                           (!offer.inrush_a || !need.inrush_a || *need.inrush_a <= *offer.inrush_a);
        if (!fed || !gives || !lives_on(*meter.supply, offer.kind, offer.volts)) continue;
        if (best == nullptr || offer.available_va < best->available_va) best = &offer;
    }
    if (best == nullptr) return std::nullopt;
    words = (best->maker.empty() ? "" : best->maker + " ") + best->model;
    return plan::ControlSupply{.id = free_id(panel.id + "-supply"),
                               .name = panel.name + ", " + words,
                               .source = words,
                               .panel = panel.id,
                               .way = {},
                               .kind = best->kind,
                               .volts = best->volts,
                               .available_va = best->available_va,
                               .inrush_a = best->inrush_a};
}

void Supplies::hang(plan::MeteringPoint& point, plan::ControlSupply const& supply, plan::Panel const& panel,
                    plan::MeterHardware const& meter, MeterSupplyNeed const& need, Proposal& proposal) {
    auto feed = point.supply.value_or(plan::SupplyFeed{});
    feed.supply = supply.id;
    if (feed.length_m <= 0.0) {
        auto const between =
            supply.panel.empty() ? std::optional<double>{} : distances_.metres(supply.panel, panel.id);
        feed.length_m = between.value_or(0.0) + settings_.tap_m;
        if (!between) proposal.assumed.push_back("that the supply stands in the panel: no distance is known");
    }
    double const current = need.va / supply.volts;
    for (auto const* const wire :
         wires_for_use(catalogue_, plan::WireUse::supply, site_.region.sizes, &meter, supply.volts)) {
        if (feed.size) break;
        auto const loop = chain::lead_loop({.length_m = feed.length_m,
                                            .size = wire->size,
                                            .metal = wire->metal,
                                            .strands = wire->strands,
                                            .way_back = plan::Return::own});
        double const drop = loop ? 100.0 * loop->ohm * current / supply.volts : 100.0;
        bool const carries = !supply.fuse_a || !wire->ampacity_a || *supply.fuse_a <= *wire->ampacity_a;
        if (drop > settings_.supply_drop_percent || !carries) continue;
        feed.size = wire->size;
        proposal.reasons.push_back(metres(feed.length_m) + " of " + wire_words(*wire) + " lose " +
                                   percent(drop) + " of " + quantity::shortest(supply.volts) + " V");
    }
    if (!feed.size)
        proposal.assumed.emplace_back("nothing of the wire: none of the catalogue keeps the drop within 5 %");
    if (!feed.polarity) feed.polarity = plan::Polarity::as_marked;
    point.supply = feed;
    count(point, &meter);
    proposal.cost = {.cable_m = feed.length_m, .va = need.va};
    auto const& loaded = loaded_[supply.id];
    proposal.reasons.push_back(va(loaded.va) + " hang on it now, " + va(settings_.supply_margin * loaded.va) +
                               " with a quarter to spare (common practice); it gives " +
                               va(supply.available_va.value_or(0.0)));
}

Proposal Supplies::choose(plan::MeteringPoint& point, plan::Panel const& panel,
                          plan::MeterHardware const& meter) {
    Proposal proposal{.part = Part::supply, .where = point.id};
    if (!meter.supply) {
        proposal.standing = Standing::open;
        proposal.ask = "what the meter lives on: its profile does not say";
        return proposal;
    }
    if (meter.supply->kind == plan::SupplyKind::voltage_inputs) {
        point.supply = plan::SupplyFeed{};
        proposal.choice = "the voltages that it measures";
        proposal.reasons.emplace_back("the meter is made for it, and it needs neither supply nor wire");
        return proposal;
    }
    auto const need = needed_by(meter);
    std::optional<std::pair<double, std::size_t>> nearest;
    for (std::size_t k = 0; k < site_.supplies.size(); ++k) {
        auto const& supply = site_.supplies[k];
        auto const away = supply.panel.empty() ? std::nullopt : distances_.metres(supply.panel, panel.id);
        if (!away && site_.panels.size() > 1) continue;  // nobody knows where it stands
        // Another panel's mains are not led about a building for the sake of a meter.
        if (supply.panel != panel.id && supply.kind == plan::CurrentKind::ac && supply.volts > 50.0 &&
            !supply.panel.empty())
            continue;
        auto why = against(supply, meter, need);
        if (!why.empty()) {
            if (proposal.others.size() < settings_.others)
                proposal.others.push_back({supply_words(supply), std::move(why)});
        } else if (!nearest || away.value_or(0.0) < nearest->first) {
            nearest = {away.value_or(0.0), k};
        }
    }
    if (nearest) {
        auto const supply = site_.supplies[nearest->second];
        proposal.choice = supply_words(supply);
        proposal.reasons.emplace_back("it is there already and has room");
        hang(point, supply, panel, meter, need, proposal);
        return proposal;
    }
    std::string model;
    auto made = from_panel(panel, meter, need);
    proposal.reasons.emplace_back(
        "the panel's own voltage is within the meter's range; nothing has to be bought but a fuse");
    if (!made) {
        made = from_catalogue(panel, meter, need, model);
        proposal.reasons = {
            "the smallest supply of the catalogue that the panel feeds and that gives what is needed"};
    }
    if (!made) {
        proposal.standing = Standing::open;
        proposal.reasons.clear();
        proposal.ask = "a supply for this meter: neither the plan, nor the panel, nor the catalogue has one";
        return proposal;
    }
    proposal.choice = "a new one: " + supply_words(*made);
    site_.supplies.push_back(*made);
    hang(point, *made, panel, meter, need, proposal);
    return proposal;
}

}  // namespace phasewright::design
