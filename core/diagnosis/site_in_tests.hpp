// Sites for the tests of the diagnosis: a supply, a load and a wiring, read by an ideal meter.
// The readings come from core/wiring, which has its own tests and published cases; journeys use sampled waveforms.
#pragma once
#include <array>
#include <cmath>
#include <complex>
#include <numbers>
#include <string_view>

#include "core/diagnosis/verdict.hpp"
#include "core/readings/reading_set.hpp"
#include "core/wiring/wiring.hpp"

namespace phasewright::diagnosis {

struct TestSite {
    plan::Service service = plan::Service::four_wire_wye;
    double v_ln = 230.0;
    std::array<double, 3> volts{1.0, 1.0, 1.0};  // against nominal
    std::array<double, 3> amps{41.2, 38.7, 44.0};
    double phi_deg = 23.0739;
    double ct_primary = 100.0;
    wiring::Wiring wired;
};

inline TestSite office() {
    TestSite site;
    site.volts = {231.0 / 230.0, 229.0 / 230.0, 232.0 / 230.0};
    site.wired = wiring::as_planned(plan::model_of(site.service));
    return site;
}
inline TestSite heater(plan::Service service) {
    TestSite site{.service = service, .v_ln = service == plan::Service::split_phase_three_wire ? 120.0 : 230.0};
    site.phi_deg = 1.0;
    site.wired = wiring::as_planned(plan::model_of(service));
    return site;
}
inline TestSite shop() {
    TestSite site{.service = plan::Service::high_leg_delta, .v_ln = 120.0, .phi_deg = 15.0};
    site.amps = {62.0, 31.0, 47.0};
    site.wired = wiring::as_planned(plan::model_of(site.service));
    return site;
}

// What an ideal meter shows of its elements.
inline readings::Snapshot snapshot_of(std::vector<wiring::ElementSeen> const& elements) {
    readings::Snapshot snapshot;
    std::complex<double> zero = 0.0;
    for (auto const& element : elements) {
        if (zero == 0.0 && std::abs(element.v) > 1.0) zero = element.v;
        snapshot.v.emplace_back(std::abs(element.v));
        snapshot.i.emplace_back(std::abs(element.i));
        snapshot.p.emplace_back(element.s.real());
        snapshot.q.emplace_back(element.s.imag());
        std::optional<double> angle;
        if (std::abs(element.v) > 1.0) angle = std::arg(element.v / zero) * 180.0 / std::numbers::pi;
        snapshot.v_angle.push_back(angle);
    }
    return snapshot;
}

inline readings::ReadingSet read(TestSite const& site) {
    auto const model = plan::model_of(site.service);
    readings::ReadingSet set;
    set.id = "test";
    set.service = site.service;
    set.nominal = plan::nominal_from_ln(site.service, site.v_ln, 50.0);
    set.ct_planned = {{site.ct_primary, 5.0}};
    set.ct_output = plan::CtOutput::five_amperes;
    auto u = plan::source_phasors(model, set.nominal, plan::Sequence::abc);
    wiring::Currents j{};
    for (std::size_t c = 0; c < model.live.size(); ++c) {
        u[c] *= site.volts[c];
        j[c] = std::polar(site.amps[c], std::arg(u[c]) - site.phi_deg * std::numbers::pi / 180.0);
    }
    if (model.currents_sum_to_zero) j[2] = -j[0] - j[1];
    set.snapshots = {snapshot_of(wiring::elements_of(wiring::seen_by(site.wired, model), u, j))};
    return set;
}

// Of all classes whose words hold these.
inline double probability_of(Verdict const& verdict, std::string_view words) {
    double sum = 0.0;
    for (auto const& found : verdict.classes)
        if (found.in_words.find(words) != std::string::npos) sum += found.probability;
    return sum;
}
// Of the class that lists this wiring.
inline double of_wiring(Verdict const& verdict, wiring::Wiring const& planted) {
    for (auto const& found : verdict.classes)
        for (auto const& member : found.wirings)
            if (member.wiring == planted) return found.probability;
    return 0.0;
}

}  // namespace phasewright::diagnosis
