// Every wiring that at most three primitive mistakes can make of the plan, each with its prior probability.
// Primitives act in the order in which an installer works: conductor, CT, lead, terminal, setting. Different sets of
// mistakes that end in the same landing are one hypothesis, whose prior is the sum over those sets: nothing is counted
// twice, nothing is sampled, nothing is left out.
#pragma once
#include <array>
#include <cstdint>
#include <span>
#include <vector>

#include "core/diagnosis/priors.hpp"
#include "core/wiring/wiring.hpp"

namespace phasewright::diagnosis {

// Quotients programmed / installed that standard primaries, turns and parallel cables give. The first means "right".
inline constexpr std::array<double, 19> usual_ratios{
    1.0, 2.0, 0.5, 4.0, 0.25, 1.5, 2.0 / 3.0, 3.0, 1.0 / 3.0, 5.0, 0.2, 2.5, 0.4, 1.25, 0.8, 1.6, 0.625, 10.0, 0.1};

// The voltage half of a landing.
struct TapLanding {
    std::array<wiring::Touch, 3> terminal{};
    wiring::Touch neutral = wiring::Touch::n;
    friend auto operator<=>(TapLanding const&, TapLanding const&) = default;
};
// The current half: one entry a current input; the path is an index into ServiceModel::live.
struct CurrentLanding {
    std::array<std::int16_t, 3> path{};  // -1: dead
    std::array<std::int8_t, 3> sign{};
    friend auto operator<=>(CurrentLanding const&, CurrentLanding const&) = default;
};
// The ratio setting: one value an input, programmed / installed.
using RatioSetting = std::array<double, 3>;

// Structure of arrays: hypothesis h joins three distinct halves.
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

// `programmed` is programmed / planned for each input, where the meter's own setting is known.
[[nodiscard]] Landings landings_of(plan::ServiceModel const& model, Odds const& odds,
                                   std::span<double const> programmed = {});

[[nodiscard]] wiring::Wiring wiring_of(Landings const& landings, std::size_t hypothesis);
[[nodiscard]] wiring::Wiring wiring_of(plan::ServiceModel const& model, TapLanding const& tap,
                                       CurrentLanding const& current, RatioSetting const& ratio);

}  // namespace phasewright::diagnosis
