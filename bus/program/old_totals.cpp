#include "bus/program/old_totals.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace phasewright::program {

namespace {

constexpr double least_steps = 20.0;
constexpr double near_share = 0.1;

profile::EnergyCount const* same_counter(std::vector<profile::EnergyCount> const& counts,
                                         std::string const& name) {
    for (auto const& count : counts)
        if (count.habit.name == name && count.value) return &count;
    return nullptr;
}

std::string energy_words(double value, profile::EnergyQuantity quantity) {
    return fmt::format("{:.1f} k{}", value / 1000.0, profile::unit_of(quantity));
}

}  // namespace

OldTotals judged_totals(std::vector<profile::EnergyCount> const& before,
                        std::vector<profile::EnergyCount> const& after, double factor) {
    bool kept = false;
    bool rescaled = false;
    if (!(factor > 0.0) || factor == 1.0) return OldTotals::cannot_tell;
    double const wanted = std::log(factor);
    for (auto const& was : before) {
        auto const* const is = same_counter(after, was.habit.name);
        if (is == nullptr || !was.value || *was.value * *is->value <= 0.0) continue;
        double const least = least_steps * was.habit.step.value_or(1.0);
        if (std::min(std::abs(*was.value), std::abs(*is->value)) < least) continue;
        double const moved = std::log(*is->value / *was.value);
        kept = kept || std::abs(moved) < near_share * std::abs(wanted);
        rescaled = rescaled || std::abs(moved - wanted) < near_share * std::abs(wanted);
    }
    if (kept && rescaled) return OldTotals::mixed;
    if (kept) return OldTotals::kept;
    return rescaled ? OldTotals::rescaled : OldTotals::cannot_tell;
}

Energies values_of(std::vector<profile::EnergyCount> const& counts) {
    Energies energies;
    for (auto const& count : counts)
        if (count.value) energies[count.habit.name] = *count.value;
    return energies;
}

std::vector<std::string> totals_words(std::vector<profile::EnergyCount> const& before,
                                      std::vector<profile::EnergyCount> const& after) {
    std::vector<std::string> words;
    for (auto const& was : before) {
        auto const* const is = same_counter(after, was.habit.name);
        if (is == nullptr || !was.value || was.habit.phase != 0) continue;
        words.push_back(fmt::format("{}: {} before, {} after", was.habit.name,
                                    energy_words(*was.value, was.habit.quantity),
                                    energy_words(*is->value, was.habit.quantity)));
    }
    return words;
}

}  // namespace phasewright::program
