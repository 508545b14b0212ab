#include "bus/twin/waveform.hpp"

#include <cmath>
#include <complex>
#include <numbers>

namespace phasewright::twin {

namespace {
using plan::Conductor;
constexpr double pi = std::numbers::pi;

constexpr std::size_t index_of(Conductor conductor) { return static_cast<std::size_t>(conductor); }

// Where the fundamental of each conductor stands, in radians.
std::array<double, 4> angles_of(Supply const& supply) {
    double const turn = supply.rotation == plan::Sequence::abc ? -1.0 : 1.0;
    std::array<double, 4> angles{};
    switch (supply.kind) {
        case SupplyKind::wye: angles = {0.0, turn * 2.0 * pi / 3.0, -turn * 2.0 * pi / 3.0, 0.0}; break;
        case SupplyKind::split_phase: angles = {0.0, pi, 0.0, 0.0}; break;
        case SupplyKind::high_leg: {
            auto const high = index_of(supply.high_leg);
            angles[(high + 2) % 3] = 0.0;
            angles[high] = turn * pi / 2.0;
            angles[(high + 1) % 3] = pi;
            break;
        }
    }
    return angles;
}

struct Harmonics {
    double third = 0.0;
    double fifth = 0.0;
    double seventh = 0.0;
};

void add_wave(Wave& wave, double rms, double angle, Harmonics const& shares, double sign) {
    double const crest = sign * rms * std::numbers::sqrt2;
    for (std::size_t k = 0; k < wave.size(); ++k) {
        double const a = 2.0 * pi * static_cast<double>(k) / static_cast<double>(samples_a_cycle) + angle;
        wave[k] += crest * (std::cos(a) + shares.third * std::cos(3.0 * a) +
                            shares.fifth * std::cos(5.0 * a) + shares.seventh * std::cos(7.0 * a));
    }
}

// One branch between two conductors: what enters by the first leaves by the second.
void add_branch(Waves& waves, std::array<std::complex<double>, 4> const& source, Load const& load,
                Conductor from, Conductor to, double amps, Stray const& stray) {
    double const branch_angle = std::arg(source[index_of(from)] - source[index_of(to)]);
    double const angle = branch_angle - (load.lag_deg + stray.degrees) * pi / 180.0;
    Harmonics const shares{load.third, load.fifth, load.seventh};
    add_wave(waves.amps[index_of(from)], amps * stray.factor, angle, shares, +1.0);
    add_wave(waves.amps[index_of(to)], amps * stray.factor, angle, shares, -1.0);
}
}  // namespace

std::array<double, 4> rms_of(Supply const& supply) {
    std::array<double, 4> rms{};
    for (std::size_t k = 0; k < supply.v.size() && k < 3; ++k) rms[k] = supply.v[k];
    return rms;
}

Waves waves_of(Supply const& supply, std::vector<Load> const& loads, std::vector<Stray> const& strays) {
    Waves waves;
    waves.step_s = 1.0 / (supply.hz * static_cast<double>(samples_a_cycle));
    auto const rms = rms_of(supply);
    auto const angles = angles_of(supply);
    std::array<std::complex<double>, 4> source{};
    for (std::size_t k = 0; k < 4; ++k) {
        waves.volts[k].assign(samples_a_window, 0.0);
        waves.amps[k].assign(samples_a_window, 0.0);
        source[k] = std::polar(rms[k], angles[k]);
        if (rms[k] > 0.0)
            add_wave(waves.volts[k], rms[k], angles[k], {.fifth = supply.fifth, .seventh = supply.seventh},
                     +1.0);
    }
    for (std::size_t k = 0; k < loads.size(); ++k) {
        auto const& load = loads[k];
        if (load.between) {
            add_branch(waves, source, load, load.between->first, load.between->second, load.amps, strays[k]);
            continue;
        }
        // Three equal branches in a triangle: each carries the line current divided by the square root of
        // three.
        double const branch_amps = load.amps / std::numbers::sqrt3;
        add_branch(waves, source, load, Conductor::a, Conductor::b, branch_amps, strays[k]);
        add_branch(waves, source, load, Conductor::b, Conductor::c, branch_amps, strays[k]);
        add_branch(waves, source, load, Conductor::c, Conductor::a, branch_amps, strays[k]);
    }
    return waves;
}

}  // namespace phasewright::twin
