#include "bus/twin/terminals.hpp"

#include <algorithm>

namespace phasewright::twin {

namespace {
bool has_star_point(plan::ServiceModel const& model) {
    return std::ranges::any_of(model.elements, [](auto const& e) { return e.minus == plan::to_star_point; });
}

struct Place {
    bool floats = true;
    Weights weights{};
};

Place place_of(Landing const& landing, std::array<double, 4> const& source_rms) {
    Place place;
    if (auto const* conductor = std::get_if<plan::Conductor>(&landing)) {
        place.floats = false;
        place.weights[static_cast<std::size_t>(*conductor)] = 1.0;
        return place;
    }
    auto const& loose = std::get<LooseLead>(landing);
    auto const copied = static_cast<std::size_t>(loose.copy_of);
    if (loose.ghost_v && source_rms[copied] > 0.0) {
        place.floats = false;
        place.weights[copied] = *loose.ghost_v / source_rms[copied];
    }
    return place;
}

double sense_of(FittedCt const& ct) { return ct.p1_faces_source == ct.s1_on_s1 ? 1.0 : -1.0; }

void add_noise(Wave& wave, double deviation, Dice& dice) {
    if (deviation <= 0.0) return;
    for (auto& sample : wave) sample += deviation * dice.normal();
}
}  // namespace

std::size_t minus_of(plan::ServiceModel const& model, plan::ElementPlan const& element) {
    if (element.minus >= 0) return static_cast<std::size_t>(element.minus);
    return model.terminals.size() + (element.minus == plan::to_star_point && model.has_neutral ? 1 : 0);
}

std::vector<Weights> weights_of(plan::ServiceModel const& model, WiredPoint const& wired,
                                std::array<double, 4> const& source_rms) {
    std::vector<Place> places;
    places.reserve(wired.taps.size() + 2);
    for (auto const& tap : wired.taps) places.push_back(place_of(tap, source_rms));
    if (model.has_neutral) places.push_back(wired.neutral ? place_of(*wired.neutral, source_rms) : Place{});
    if (has_star_point(model)) places.emplace_back();

    // Every floating place is the mean of those that its elements lead to. A handful of places: repeated
    // averaging settles to the last bit long before it ends.
    constexpr int rounds = 200;
    for (int round = 0; round < rounds; ++round)
        for (std::size_t place = 0; place < places.size(); ++place) {
            if (!places[place].floats) continue;
            Weights sum{};
            double neighbours = 0.0;
            for (auto const& element : model.elements) {
                auto const plus = static_cast<std::size_t>(element.plus);
                auto const minus = minus_of(model, element);
                if (plus != place && minus != place) continue;
                auto const& other = places[plus == place ? minus : plus].weights;
                for (std::size_t k = 0; k < sum.size(); ++k) sum[k] += other[k];
                neighbours += 1.0;
            }
            if (neighbours > 0.0)
                for (std::size_t k = 0; k < sum.size(); ++k) places[place].weights[k] = sum[k] / neighbours;
        }
    std::vector<Weights> weights;
    weights.reserve(places.size());
    for (auto const& place : places) weights.push_back(place.weights);
    return weights;
}

Inputs inputs_of(plan::ServiceModel const& model, WiredPoint const& wired, Supply const& supply,
                 Waves const& waves, Dice& dice) {
    Inputs inputs{.potentials = {}, .currents = {}, .step_s = waves.step_s};
    for (auto const& weights : weights_of(model, wired, rms_of(supply))) {
        Wave wave(samples_a_window, 0.0);
        for (std::size_t k = 0; k < weights.size(); ++k)
            for (std::size_t at = 0; at < wave.size(); ++at) wave[at] += weights[k] * waves.volts[k][at];
        add_noise(wave, wired.noise.volts, dice);
        inputs.potentials.push_back(std::move(wave));
    }
    for (auto const& ct : wired.cts) {
        Wave wave(samples_a_window, 0.0);
        if (ct.round && !ct.links_closed) {
            double const scale = sense_of(ct) * ct.window_share / ct.ratio.factor() * ct.programmed.factor();
            auto const& amps = waves.amps[static_cast<std::size_t>(*ct.round)];
            for (std::size_t at = 0; at < wave.size(); ++at) wave[at] = scale * amps[at];
        }
        add_noise(wave, wired.noise.amps * ct.ratio.secondary * ct.programmed.factor(), dice);
        inputs.currents.push_back(std::move(wave));
    }
    return inputs;
}

}  // namespace phasewright::twin
