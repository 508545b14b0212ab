// For the tests of the room: a load of its own for every interval, and what a wrongly wired meter stores of
// it. The phasors are summed here by hand from where each lead lands; nothing of core/wiring or of the
// correction is used.
#pragma once
#include <array>
#include <cmath>
#include <complex>
#include <numbers>
#include <vector>

#include "core/correction/interval_data.hpp"

namespace phasewright::correction {

using Phasor = std::complex<double>;
using ThreePhasors = std::array<Phasor, 3>;

inline Phasor at_deg(double size, double deg) { return std::polar(size, deg * std::numbers::pi / 180.0); }
inline ThreePhasors wye_supply(double v = 230.0) {
    return {at_deg(v, 0.0), at_deg(v, -120.0), at_deg(v, 120.0)};
}

// Element k sees the voltage of phase `tap[k]` and `sign[k]` times the current of phase `ct[k]`, or no
// current.
struct Hookup {
    std::array<int, 3> tap{0, 1, 2};
    std::array<int, 3> ct{0, 1, 2};  // -1: dead
    std::array<double, 3> sign{1.0, 1.0, 1.0};
};

struct Instant {
    ThreePhasors u, j;
};

inline Phasor true_of(Instant const& now, std::size_t phase) {
    return now.u[phase] * std::conj(now.j[phase]);
}
inline Phasor true_of(Instant const& now) { return true_of(now, 0) + true_of(now, 1) + true_of(now, 2); }
inline Phasor stored_by(Hookup const& hookup, Instant const& now, std::size_t k) {
    if (hookup.ct[k] < 0) return 0.0;
    return now.u[static_cast<std::size_t>(hookup.tap[k])] *
           std::conj(hookup.sign[k] * now.j[static_cast<std::size_t>(hookup.ct[k])]);
}

// A year of 15 minutes: a base load, working days, a light evening; phases apart, angles wandering.
inline std::vector<Instant> year_of_loads(std::size_t rows = 35'040, ThreePhasors const& u = wye_supply()) {
    std::vector<Instant> year(rows);
    for (std::size_t t = 0; t < rows; ++t) {
        double const hour = static_cast<double>(t % 96) / 4.0;
        bool const work = (t / 96) % 7 < 5 && hour > 7.0 && hour < 18.0;
        double const amps = (work ? 60.0 : 12.0) * (1.0 + 0.3 * std::sin(0.0137 * static_cast<double>(t)));
        double const lag = 18.0 + 22.0 * std::sin(2.0 * std::numbers::pi * hour / 24.0) + (work ? 6.0 : -4.0);
        std::array<double, 3> const size{1.0, 0.8 + 0.1 * std::sin(0.003 * static_cast<double>(t)), 1.15};
        std::array<double, 3> const more{0.0, 6.0, -5.0};
        year[t].u = u;
        for (std::size_t k = 0; k < 3; ++k)
            year[t].j[k] =
                std::polar(amps * size[k], std::arg(u[k]) - (lag + more[k]) * std::numbers::pi / 180.0);
    }
    return year;
}

inline IntervalData stored(std::vector<Instant> const& loads, Hookup const& hookup, bool totals = false) {
    IntervalData data{.columns = totals ? 1U : 3U, .totals = totals};
    for (std::size_t t = 0; t < loads.size(); ++t) {
        data.start_s.push_back(1.7e9 + 900.0 * static_cast<double>(t));
        data.duration_s.push_back(900.0);
        Phasor sum = 0.0;
        for (std::size_t k = 0; k < 3; ++k) {
            auto const s = 0.25 * stored_by(hookup, loads[t], k);
            if (!totals) data.energy.push_back(s);
            sum += s;
        }
        if (totals) data.energy.push_back(sum);
    }
    return data;
}

inline double true_wh(std::vector<Instant> const& loads) {
    double sum = 0.0;
    for (auto const& now : loads) sum += 0.25 * true_of(now).real();
    return sum;
}

}  // namespace phasewright::correction
