// Every wiring that at most three primitive mistakes can make of the plan, each with its prior probability.
// Primitives act in the order in which an installer works: conductor, CT, lead, terminal, setting; within one stage in
// either order, each as likely. Different sets of mistakes that end in the same landing are one hypothesis, whose prior
// is the sum over those sets: nothing is counted twice, nothing is sampled, nothing is left out.
// Taps, currents and ratios do not meet before the meter, so a landing is a triple of halves, and its prior the sum over
// i + j + k <= 3 of the weights of i mistakes at the taps, j at the currents and k at the ratios.
#pragma once
#include <array>
#include <cstdint>
#include <numbers>
#include <span>
#include <vector>

#include "core/diagnosis/priors.hpp"
#include "core/wiring/wiring.hpp"

namespace phasewright::diagnosis {

// Quotients programmed / installed that standard primaries, turns and parallel cables give. The first means "right".
inline constexpr std::array<double, 19> usual_ratios{
    1.0, 2.0, 0.5, 4.0, 0.25, 1.5, 2.0 / 3.0, 3.0, 1.0 / 3.0, 5.0, 0.2, 2.5, 0.4, 1.25, 0.8, 1.6, 0.625, 10.0, 0.1};
// The same of voltage transformers: half, twice, and the two ways of mistaking phase for line volts.
inline constexpr std::array<double, 5> usual_vt_ratios{1.0, 2.0, 0.5, std::numbers::sqrt3, std::numbers::inv_sqrt3};

// The voltage half of a landing.
struct TapLanding {
    std::array<wiring::Touch, 3> terminal{};
    wiring::Touch neutral = wiring::Touch::n;
    std::array<std::int8_t, 3> turned{1, 1, 1};  // -1: a voltage transformer's secondary back to front
    std::uint8_t vt_ratio = 0;                   // index into usual_vt_ratios
    bool two_elements = false;                   // the meter is set to compute two elements
    bool supply_neutral_broken = false;          // not of the meter: the loads' star point floats
    friend auto operator<=>(TapLanding const&, TapLanding const&) = default;
};

// The current half: one entry a current input; the path is an index into ServiceModel::live.
inline constexpr std::int16_t dead_path = -1;
inline constexpr std::int16_t crossed_path = -2;  // two inputs whose loops became one; exactly two have it
struct CurrentLanding {
    std::array<std::int16_t, 3> path{};
    std::array<std::int8_t, 3> sign{};
    bool coil = false;         // a raw coil on a voltage input: every current arrives a quarter turn early
    bool vars_turned = false;  // the meter's reactive power has the other sign than it was said to have
    friend auto operator<=>(CurrentLanding const&, CurrentLanding const&) = default;
};
// The ratio setting: one value an input, programmed / installed.
using RatioSetting = std::array<double, 3>;

// Structure of arrays: hypothesis h joins three distinct halves. Hypotheses of one tap and one current landing stand
// together.
struct Landings {
    plan::ServiceModel model;
    std::vector<TapLanding> taps;
    std::vector<CurrentLanding> currents;
    std::vector<RatioSetting> ratios;
    std::vector<std::uint32_t> tap_of, current_of, ratio_of;  // per hypothesis, indices into the three above
    std::vector<double> log_prior;                            // natural logarithm, normalised
    std::size_t planned = 0;                                  // index of "no mistake"
    std::size_t sets = 0;                                     // sets of primitives that were merged
    [[nodiscard]] std::size_t size() const { return log_prior.size(); }
};

// What decides which mistakes are possible at all, beside the service.
struct PointFacts {
    std::vector<double> programmed;  // programmed / planned for each input, where the meter's own setting is known
    bool current_loops = true;       // CT secondaries that are, or may be, current loops
    bool voltage_transformers = false;
    double raw_coil_odds = 0.0;      // that a raw coil feeds a voltage input
    bool vars_were_read = true;
    double two_elements_odds = 0.0;  // that the meter is set to the two-element service
};

[[nodiscard]] Landings landings_of(plan::ServiceModel const& model, Odds const& odds, PointFacts const& facts = {});

[[nodiscard]] wiring::Wiring wiring_of(Landings const& landings, std::size_t hypothesis);
[[nodiscard]] wiring::Wiring wiring_of(plan::ServiceModel const& model, TapLanding const& tap,
                                       CurrentLanding const& current, RatioSetting const& ratio);

}  // namespace phasewright::diagnosis
