#include "benchmarks/alike.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace phasewright::benchmarks {

namespace {
constexpr double tolerance = 1e-6;

bool near(double x, double y) { return std::abs(x - y) <= tolerance * (1.0 + std::abs(x) + std::abs(y)); }
bool near(Phasor x, Phasor y) { return std::abs(x - y) <= tolerance * (1.0 + std::abs(x) + std::abs(y)); }

template <class Array>
Array renamed(Array const& values, std::array<std::size_t, 3> const& renaming) {
    auto result = values;
    for (std::size_t c = 0; c < 3; ++c) result[c] = values[renaming[c]];
    return result;
}

bool equal_but_for_a_turn(Supply const& x, Supply const& y) {
    Phasor const turn = y[0] / x[0];
    if (!near(std::abs(turn), 1.0)) return false;
    return std::ranges::equal(x, y, [turn](Phasor one, Phasor other) { return near(one * turn, other); });
}

// What a reading set would hold of these elements, but for noise.
bool same_shown(std::vector<Shown> const& x, std::vector<Shown> const& y, bool angles) {
    std::optional<Phasor> x_zero;
    std::optional<Phasor> y_zero;
    for (std::size_t k = 0; k < x.size(); ++k) {
        if (x[k].v.has_value() != y[k].v.has_value() || x[k].dead != y[k].dead) return false;
        if (!near(std::abs(x[k].i), std::abs(y[k].i))) return false;
        if (!x[k].v) continue;  // stray volts give meaningless watts
        Phasor const v = *x[k].v;
        Phasor const w = *y[k].v;
        if (!near(std::abs(v), std::abs(w))) return false;
        if (!near(v * std::conj(x[k].i), w * std::conj(y[k].i))) return false;
        if (std::abs(v) < 3.0 || !angles) continue;
        if (!x_zero) {
            x_zero = v;
            y_zero = w;
        }
        if (!near(v / *x_zero * std::abs(*x_zero), w / *y_zero * std::abs(*y_zero))) return false;
    }
    return true;
}
}  // namespace

Landing landing_of(wiring::Wiring const& named) {
    Landing landing;
    for (auto const touch : named.voltage) landing.taps.push_back(static_cast<int>(touch));
    landing.neutral_tap = named.neutral ? static_cast<int>(*named.neutral) : nothing;
    for (auto const& feed : named.current) {
        landing.cts.push_back(feed.dead ? nothing : static_cast<int>(feed.conductor));
        landing.signs.push_back(feed.dead ? 1 : feed.sign);
    }
    landing.ratios = named.ratio;
    return landing;
}

bool is_known_here(wiring::Wiring const& named) {
    bool const plain = std::ranges::none_of(
        named.current, [](wiring::Feed const& feed) { return feed.with.has_value() || feed.quarter_turn; });
    return plain && !named.vars_turned && !named.two_elements && named.vt_sign.empty() && named.vt_ratio == 1.0;
}

Likeness::Likeness(Meter const& meter, bool rotation_told, bool angles) : meter_(meter), angles_(angles) {
    auto const nominal = nominal_supply(meter, Turn::abc);
    auto const mirrored = nominal_supply(meter, Turn::acb);
    Renaming renaming{0, 1, 2};
    do {
        bool stays = true;  // conductors that the service does not have keep their places
        for (auto c = static_cast<std::size_t>(meter.conductors); c < 3; ++c)
            stays = stays && renaming[c] == c;
        auto const supply = renamed(nominal, renaming);
        bool const kept = equal_but_for_a_turn(nominal, supply);
        bool const mirror = !rotation_told && equal_but_for_a_turn(mirrored, supply);
        if (stays && (kept || mirror)) renamings_.push_back(renaming);
    } while (std::ranges::next_permutation(renaming).found);
    Dice dice(20260520);
    for (int probe = 0; probe < 4; ++probe) {
        Probe made{drawn_supply(dice, meter, Turn::abc), {}};
        for (std::size_t c = 0; c < static_cast<std::size_t>(meter.conductors); ++c)
            made.load[c] =
                std::polar(dice.between(5.0, 50.0), dice.between(-std::numbers::pi, std::numbers::pi));
        if (meter.closed) made.load[2] = -made.load[0] - made.load[1];
        probes_.push_back(made);
    }
}

bool Likeness::same_readings(Landing const& x, Landing const& y, Renaming const& renaming) const {
    return std::ranges::all_of(probes_, [&](Probe const& probe) {
        auto const as_is = shown_by(meter_, x, probe.supply, probe.load);
        auto const turned =
            shown_by(meter_, y, renamed(probe.supply, renaming), renamed(probe.load, renaming));
        return same_shown(as_is, turned, angles_);
    });
}

bool Likeness::alike(Landing const& x, Landing const& y) const {
    return std::ranges::any_of(renamings_,
                               [&](Renaming const& renaming) { return same_readings(x, y, renaming); });
}

std::string Likeness::cause_of_confusion(Landing const& planted, Landing const& named) const {
    auto const dead = [](Landing const& landing) { return std::ranges::count(landing.cts, nothing); };
    auto const lost = [](Landing const& landing) { return std::ranges::count(landing.taps, nothing); };
    if (dead(planted) != dead(named)) return "a dead input or an unloaded phase";
    if (lost(planted) != lost(named) || (planted.neutral_tap == nothing) != (named.neutral_tap == nothing))
        return "a lost tap or neutral";
    auto x = planted;
    auto y = named;
    y.ratios = x.ratios;
    if (alike(x, y)) return "a ratio";
    x.ratios.assign(x.ratios.size(), 1.0);
    y.ratios = x.ratios;
    auto const supply = nominal_supply(meter_, Turn::abc);
    auto const centre = meter_.service == plan::Service::high_leg_delta
                            ? (supply[0] + supply[1] + supply[2]) / 3.0
                            : Phasor{};
    auto const balanced = [&](double lag_deg) {
        Load load{};
        for (std::size_t c = 0; c < static_cast<std::size_t>(meter_.conductors); ++c)
            load[c] = (supply[c] - centre) / std::abs(supply[c] - centre) *
                      std::polar(20.0, -lag_deg * std::numbers::pi / 180.0);
        return load;
    };
    auto const as_is = shown_by(meter_, x, supply, balanced(17.0));
    for (int const turn : {0, 180, 60, -60, 120, -120})
        if (same_shown(as_is, shown_by(meter_, y, supply, balanced(17.0 + turn)), angles_))
            return turn == 180 ? "export or all reversed" : "a load angle turned by " + std::to_string(turn);
    return "something else";
}

bool recoverable(Meter const& meter, Landing const& landing) {
    auto const shown = shown_by(meter, landing, nominal_supply(meter, Turn::abc), {1.0, 1.0, 1.0});
    std::vector<bool> seen(static_cast<std::size_t>(meter.conductors), false);
    for (std::size_t k = 0; k < shown.size(); ++k) {
        if (landing.ratios[k] != 1.0) return false;
        bool const has_volts = shown[k].v && std::abs(*shown[k].v) > 3.0;
        if (has_volts && !shown[k].dead) seen[static_cast<std::size_t>(landing.cts[k])] = true;
    }
    return std::ranges::count(seen, false) <= (meter.closed ? 1 : 0);
}

}  // namespace phasewright::benchmarks
