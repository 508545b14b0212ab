#include "benchmarks/ideal_meter.hpp"

#include <cmath>
#include <complex>
#include <numbers>

namespace phasewright::benchmarks {

readings::ReadingSet ideal_reading(plan::Service service, wiring::Wiring const& wired, StepwiseLoad const& load) {
    bool const small = service == plan::Service::split_phase_three_wire || service == plan::Service::high_leg_delta ||
                       service == plan::Service::two_phases_of_wye;
    readings::ReadingSet set;
    set.id = "ideal";
    set.service = service;
    set.nominal = plan::nominal_from_ln(service, small ? 120.0 : 230.0, 50.0);
    set.ct_planned = {{100.0, 5.0}};
    auto const model = plan::model_of(service);
    auto const u = plan::source_phasors(model, set.nominal, plan::Sequence::abc);
    wiring::Currents j{};
    for (std::size_t c = 0; c < model.live.size(); ++c) {
        auto const step = static_cast<double>(c);
        double const lag = (load.lag_deg + load.lag_step_deg * step) * std::numbers::pi / 180.0;
        j[c] = std::polar(load.amps + load.amps_step * step, std::arg(u[c]) - lag);
    }
    if (model.currents_sum_to_zero) j[2] = -j[0] - j[1];
    readings::Snapshot snapshot;
    auto const elements = wiring::elements_of(wiring::seen_by(wired, model), u, j);
    for (auto const& element : elements) {
        snapshot.v.emplace_back(std::abs(element.v));
        snapshot.i.emplace_back(std::abs(element.i));
        snapshot.p.emplace_back(element.s.real());
        snapshot.q.emplace_back(element.s.imag());
        snapshot.v_angle.emplace_back(std::arg(element.v / elements[0].v) * 180.0 / std::numbers::pi);
    }
    set.snapshots = {snapshot};
    return set;
}

}  // namespace phasewright::benchmarks
