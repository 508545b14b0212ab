// Parts and points that tests are made of: invented, each with only what its test is about.
#pragma once
#include <string>

#include "core/design/catalogue.hpp"
#include "core/plan/site.hpp"

namespace phasewright::design {

inline plan::MeterHardware five_ampere_meter() {
    plan::MeterHardware meter;
    meter.current_inputs = {
        {.output = plan::CtOutput::five_amperes, .rated = 5.0, .most = 10.0, .burden_va = 0.1}};
    meter.voltage_inputs = plan::VoltageInputs{
        .most_ln = 300.0, .most_ll = 520.0, .least_ll = 90.0, .category = {}, .burden_va = 0.1};
    meter.wires = {{.use = plan::WireUse::voltage,
                    .mm2 = plan::Between{0.5, 2.5},
                    .thinnest_awg = "20",
                    .thickest_awg = "12"},
                   {.use = plan::WireUse::current,
                    .mm2 = plan::Between{0.5, 4.0},
                    .thinnest_awg = "20",
                    .thickest_awg = "10"}};
    meter.accuracy = {{.standard = "IEC 62053-22", .word = "0.5S"}};
    meter.supply =
        plan::MeterSupply{.kind = plan::SupplyKind::ac, .ac_v = plan::Between{85.0, 265.0}, .power_va = 4.0};
    meter.bus = plan::MeterBus{.kind = plan::BusKind::serial,
                               .bit_rates = {9600, 19200},
                               .parities = {},
                               .stop_bits = {},
                               .delivered = {},
                               .delivered_address = 1,
                               .unit_load = 0.25};
    return meter;
}

inline CtOffer ring(std::string const& model, double primary, std::string const& accuracy, double window_mm,
                    double burden_va = 2.5) {
    CtOffer offer;
    offer.ct = {.ratio = {primary, 5.0},
                .output = plan::CtOutput::five_amperes,
                .accuracy_class = accuracy,
                .model = model,
                .burden_va = burden_va,
                .most_percent = 120.0,
                .window = plan::Window{window_mm, window_mm, true}};
    return offer;
}

inline WireOffer wire(double mm2, std::vector<plan::WireUse> uses, double ampacity_a) {
    return {.size = {plan::SizeUnit::mm2, mm2},
            .metal = plan::Metal::copper,
            .strands = plan::Strands::stranded,
            .uses = std::move(uses),
            .volts = 750.0,
            .k = 115.0,
            .ampacity_a = ampacity_a};
}

inline Catalogue small_catalogue() {
    using plan::WireUse;
    Catalogue catalogue;
    catalogue.wires = {wire(1.5, {WireUse::voltage, WireUse::supply}, 17.5),
                       wire(2.5, {WireUse::voltage, WireUse::current}, 24.0),
                       wire(4.0, {WireUse::current}, 32.0)};
    catalogue.fuses = {
        {.model = "one", .rated_a = 1.0, .volts = 690.0, .breaking_ka = 100.0, .let_through_a2s = 6.0}};
    return catalogue;
}

inline plan::Panel panel_400(std::string const& id) {
    return {.id = id, .name = id, .nominal = {.v_ln = 230.0, .v_ll = 400.0, .hz = 50.0}};
}

inline plan::MeteringPoint point_in(std::string const& panel, std::string const& id) {
    plan::MeteringPoint point;
    point.id = point.name = id;
    point.panel = panel;
    point.breaker_a = 63.0;
    point.usual_a = 30.0;
    point.most_a = 60.0;
    point.least_a = 5.0;
    point.power_factor = 0.9;
    point.to_choose = {.ct = true, .meter = true, .address = true};
    return point;
}

inline MeterOffer offer_of(std::string const& profile, plan::MeterHardware hardware) {
    return {.profile = profile,
            .name = profile,
            .hardware = std::move(hardware),
            .services = {plan::Service::four_wire_wye, plan::Service::one_phase_two_wire},
            .current_inputs = 3};
}

}  // namespace phasewright::design
