#include "benchmarks/world.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace phasewright::benchmarks {

namespace {
constexpr double per_degree = std::numbers::pi / 180.0;

Phasor at(double size, double degrees) { return std::polar(size, degrees * per_degree); }
double degrees_of(Phasor z) { return std::arg(z) / per_degree; }

std::vector<Meter> made() {
    using S = plan::Service;
    std::vector<std::array<int, 2>> const two{{0, to_neutral}, {1, to_neutral}};
    std::vector<std::array<int, 2>> const three{{0, to_neutral}, {1, to_neutral}, {2, to_neutral}};
    std::vector<std::array<int, 2>> const star{{0, to_star}, {1, to_star}, {2, to_star}};
    return {
        {S::one_phase_two_wire, "1P2W", 1, 1, true, {{0, to_neutral}}, {0}, false, 230.0, 400.0},
        {S::split_phase_three_wire, "1P3W", 2, 2, true, two, {0, 1}, false, 120.0, 240.0},
        {S::two_phases_of_wye, "2P3W", 2, 2, true, two, {0, 1}, false, 120.0, 208.0},
        {S::four_wire_wye, "3P4W", 3, 3, true, three, {0, 1, 2}, false, 230.0, 400.0},
        {S::three_wire_three_ct, "3P3W", 3, 3, false, star, {0, 1, 2}, true, 230.0, 400.0},
        {S::three_wire_two_element, "3P3W-2E", 3, 3, false, {{0, 1}, {2, 1}}, {0, 2}, true, 230.0, 400.0},
        {S::high_leg_delta, "3P4W-HL", 3, 3, true, three, {0, 1, 2}, false, 120.0, 240.0},
    };
}
}  // namespace

std::vector<Meter> const& meters() {
    static std::vector<Meter> const all = made();
    return all;
}

Meter const* meter_of(std::string_view code) {
    auto const found = std::ranges::find(meters(), code, &Meter::code);
    return found == meters().end() ? nullptr : &*found;
}

Landing as_planned(Meter const& meter) {
    Landing landing;
    for (int t = 0; t < meter.taps; ++t) landing.taps.push_back(t);
    landing.neutral_tap = meter.has_neutral ? neutral : nothing;
    landing.cts = meter.inputs;
    landing.signs.assign(meter.inputs.size(), 1);
    landing.ratios.assign(meter.inputs.size(), 1.0);
    return landing;
}

Supply nominal_supply(Meter const& meter, Turn turn) {
    double const way = turn == Turn::abc ? 1.0 : -1.0;
    double const phase = meter.has_neutral ? meter.v_ln : meter.v_ll / std::numbers::sqrt3;
    switch (meter.service) {
        case plan::Service::one_phase_two_wire:
            return {at(phase, 0.0), 0.0, 0.0, 0.0};
        case plan::Service::split_phase_three_wire:
            return {at(phase, 0.0), at(phase, 180.0), 0.0, 0.0};
        case plan::Service::two_phases_of_wye:
            return {at(phase, 0.0), at(phase, -120.0 * way), 0.0, 0.0};
        case plan::Service::high_leg_delta:
            return {at(phase, 0.0), at(meter.v_ll * std::numbers::sqrt3 / 2.0, -90.0 * way), at(phase, 180.0),
                    0.0};
        default:
            return {at(phase, 0.0), at(phase, -120.0 * way), at(phase, 120.0 * way), 0.0};
    }
}

std::vector<Shown> shown_by(Meter const& meter, Landing const& landing, Supply const& supply,
                            Load const& load) {
    auto const potential = [&](int tap) -> std::optional<Phasor> {
        if (tap == nothing) return std::nullopt;
        return supply[static_cast<std::size_t>(tap)];
    };
    // Equal input resistances pull a floating common to the mean of the taps that are live.
    Phasor star{};
    int live = 0;
    for (int const tap : landing.taps)
        if (auto const here = potential(tap)) {
            star += *here;
            ++live;
        }
    if (live > 0) star /= live;
    std::vector<Shown> shown;
    for (std::size_t k = 0; k < meter.elements.size(); ++k) {
        Shown element;
        auto const [plus, minus] = meter.elements[k];
        auto const high = potential(landing.taps[static_cast<std::size_t>(plus)]);
        if (minus >= 0) {
            auto const low = potential(landing.taps[static_cast<std::size_t>(minus)]);
            // With the common tap open the two elements stand in series across the outer taps and halve their
            // volts.
            auto const other = potential(landing.taps[static_cast<std::size_t>(meter.elements[1 - k][0])]);
            if (high && low) element.v = *high - *low;
            if (high && !low && other) element.v = (*high - *other) / 2.0;
        } else if (high) {
            auto const low = minus == to_neutral ? potential(landing.neutral_tap) : std::nullopt;
            element.v = *high - low.value_or(star);
        }
        int const on = landing.cts[k];
        element.dead = on == nothing;
        double const factor = landing.ratios[k] * landing.signs[k];
        if (!element.dead) element.i = factor * load[static_cast<std::size_t>(on)];
        shown.push_back(element);
    }
    return shown;
}

namespace {
// The mean load angle of sites of which nothing is known: docs/physics/likelihood.md states the same mixture.
double any_lag(Dice& dice) {
    double const u = dice.share();
    if (u < 0.70) return dice.normal(18.0, 14.0);
    if (u < 0.82) return dice.normal(-8.0, 12.0);
    if (u < 0.88) return dice.normal(190.0, 20.0);
    return dice.normal(10.0, 45.0);
}

double lag_of(Dice& dice, Belief belief) {
    switch (belief) {
        case Belief::unknown:
            return any_lag(dice);
        case Belief::resistive:
            return dice.normal(1.0, 3.0);
        case Belief::motor:
            return dice.normal(35.0, 10.0);
        case Belief::leading:
            return dice.normal(-25.0, 15.0);
        case Belief::exporting:
            return dice.normal(188.0, 15.0);
    }
    return 0.0;
}
}  // namespace

SiteHabit drawn_habit(Dice& dice, Belief belief) {
    bool const known = belief == Belief::resistive || belief == Belief::motor;
    SiteHabit habit;
    habit.belief = belief;
    habit.lag_deg = lag_of(dice, belief);
    habit.wander_deg = known ? 4.0 : 8.0;
    for (auto& lag : habit.phase_lag_deg)
        lag = dice.normal(0.0, known ? 4.0 : dice.happens(0.2) ? 20.0 : 8.0);
    for (auto& size : habit.phase_size) size = std::exp(dice.normal(0.0, 0.3));
    habit.lighting_lag_deg = dice.normal(10.0, 8.0);
    if (dice.happens(0.4)) habit.line_to_line_share = dice.between(0.2, 1.0);
    return habit;
}

void as_believed(Dice& dice, Meter const& meter, SiteHabit& habit) {
    habit.least_load = 0.01;
    habit.most_load = 1.0;
    bool const idle = dice.happens(0.03);
    for (int c = 0; c < meter.conductors; ++c)
        habit.unloaded[static_cast<std::size_t>(c)] = idle || dice.happens(0.004);
}

Supply drawn_supply(Dice& dice, Meter const& meter, Turn turn) {
    auto supply = nominal_supply(meter, turn);
    double const common = dice.normal(0.0, 0.02);
    for (int c = 0; c < meter.conductors; ++c)
        supply[static_cast<std::size_t>(c)] *=
            at(1.0 + common + dice.normal(0.0, 0.008), dice.normal(0.0, 0.5));
    return supply;
}

Supply a_moment_later(Dice& dice, Supply const& supply) {
    auto later = supply;
    for (auto& u : later) u *= 1.0 + dice.normal(0.0, 0.003);
    return later;
}

namespace {
// What flows in must flow out: the sum is taken off the loaded phases in equal parts.
void close(Load& load, SiteHabit const& habit) {
    auto const loaded = static_cast<double>(std::ranges::count(habit.unloaded, false));
    Phasor const sum = load[0] + load[1] + load[2];
    for (std::size_t c = 0; c < load.size(); ++c)
        if (!habit.unloaded[c]) load[c] -= sum / loaded;
}
}  // namespace

Load drawn_load(Dice& dice, Meter const& meter, Supply const& supply, SiteHabit const& habit) {
    double const level = dice.log_between(habit.least_load, habit.most_load) * breaker_a;
    double const lag = habit.lag_deg + dice.normal(0.0, habit.wander_deg);
    auto const conductors = static_cast<std::size_t>(meter.conductors);
    Load load{};
    for (std::size_t c = 0; c < conductors; ++c)
        load[c] = at(level * habit.phase_size[c],
                     degrees_of(supply[c]) - lag - habit.phase_lag_deg[c] + dice.normal(0.0, 0.5));
    if (meter.closed) {
        for (std::size_t c = 0; c < conductors; ++c)
            if (habit.unloaded[c]) load[c] = 0.0;
        close(load, habit);
    }
    if (meter.service == plan::Service::high_leg_delta) {
        // A three-phase load about the delta's own centre, and lighting on each of the two earthed halves.
        Phasor const centre = (supply[0] + supply[1] + supply[2]) / 3.0;
        for (std::size_t c = 0; c < 3; ++c)
            load[c] = at(level, degrees_of(supply[c] - centre) - lag + dice.normal(0.0, 3.0));
        for (std::size_t const leg : {std::size_t{0}, std::size_t{2}})
            load[leg] += at(level * std::exp(dice.normal(-0.3, 1.0)),
                            degrees_of(supply[leg]) - habit.lighting_lag_deg);
    }
    if (habit.line_to_line_share > 0.0 && meter.service == plan::Service::two_phases_of_wye) {
        double const across = habit.line_to_line_share;
        Phasor const current = at(level, degrees_of(supply[0] - supply[1]) - lag);
        load[0] = (1.0 - across) * load[0] + across * current;
        load[1] = (1.0 - across) * load[1] - across * current;
    }
    for (std::size_t c = 0; c < conductors; ++c)
        if (habit.unloaded[c]) load[c] = 0.0;
    return load;
}

namespace {
struct Digits {
    double v = 0.1, i = 0.01, p = 1.0, angle = 0.1;
};

double rounded(double value, double step) { return std::round(value / step) * step; }

// A register that came back wrong: nothing, a misplaced decimal point, or its neighbour's value.
void corrupt(Dice& dice, readings::Column& column) {
    for (std::size_t k = 0; k < column.size(); ++k) {
        if (!column[k] || !dice.happens(0.02)) continue;
        switch (dice.below(3)) {
            case 0:
                column[k] = 0.0;
                break;
            case 1:
                *column[k] *= dice.happens(0.5) ? 10.0 : 0.1;
                break;
            default:
                column[k] = column[(k + 1) % column.size()];
                break;
        }
    }
}

// An open tap shows next to nothing, or what strays over from its neighbours.
Phasor stray(Dice& dice, Meter const& meter) {
    double const volts = dice.happens(0.5) ? 0.5 : dice.between(5.0, 0.6 * meter.v_ln);
    return at(volts, dice.between(-180.0, 180.0));
}

// Rated current of the transformers: below its hundredths the instruments only hum.
Phasor hum(Dice& dice) { return at(dice.between(0.0, 0.003) * breaker_a, dice.between(-180.0, 180.0)); }
}  // namespace

readings::Snapshot read(Dice& dice, Meter const& meter, std::vector<Shown> const& shown,
                        Reader const& reader) {
    readings::Snapshot snapshot;
    Digits digits;
    if (reader.rough) digits = {1.0, dice.happens(0.5) ? 0.1 : 1.0, dice.happens(0.5) ? 10.0 : 100.0, 1.0};
    double const distortion = reader.rough ? dice.between(0.0, 0.35) : 0.0;
    std::optional<Phasor> zero;
    for (auto const& element : shown) {
        Phasor v = element.v ? *element.v : stray(dice, meter);
        Phasor i = element.i == 0.0 ? hum(dice) : element.i;
        v *= 1.0 + dice.normal(0.0, 0.002);
        i *= at(1.0 + dice.normal(0.0, 0.003), dice.normal(0.0, 0.3));
        // Registers of one snapshot are not of one instant: the load has moved when the next one is read.
        double const moved = reader.rough ? 1.0 + dice.normal(0.0, 0.04) : 1.0;
        double const moved_again = reader.rough ? 1.0 + dice.normal(0.0, 0.04) : 1.0;
        Phasor const s = v * std::conj(i);
        snapshot.v.emplace_back(rounded(std::abs(v), digits.v));
        snapshot.i.emplace_back(rounded(std::abs(i) * std::hypot(1.0, distortion), digits.i));
        snapshot.p.emplace_back(rounded(s.real() * moved, digits.p));
        snapshot.q.emplace_back(rounded(s.imag() * moved_again, digits.p));
        if (!reader.angles) continue;
        bool const has_volts = std::abs(v) > 3.0;
        if (has_volts && !zero) zero = v;
        snapshot.v_angle.emplace_back();
        if (has_volts) snapshot.v_angle.back() = rounded(degrees_of(v / *zero), digits.angle);
    }
    if (reader.rough)
        for (auto* column : {&snapshot.v, &snapshot.i, &snapshot.p, &snapshot.q, &snapshot.v_angle})
            corrupt(dice, *column);
    return snapshot;
}

}  // namespace phasewright::benchmarks
