#include "benchmarks/identities.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <set>

#include "benchmarks/trial.hpp"
#include "core/diagnosis/diagnose.hpp"

namespace phasewright::benchmarks {

namespace {
double radians_of(double degrees) { return degrees * std::numbers::pi / 180.0; }
double degrees_of(Phasor value) { return std::arg(value) * 180.0 / std::numbers::pi; }

// A motor-like load, unequal from phase to phase so that no exchange goes unseen; three wires close.
Load plain_load(Meter const& meter, Supply const& supply) {
    constexpr std::array sizes{40.0, 31.0, 36.0};
    constexpr std::array lags{31.0, 36.0, 27.0};
    Load load{};
    Phasor centre{};
    if (meter.service == plan::Service::high_leg_delta) centre = (supply[0] + supply[1] + supply[2]) / 3.0;
    for (std::size_t c = 0; c < static_cast<std::size_t>(meter.conductors); ++c)
        load[c] = std::polar(sizes[c], std::arg(supply[c] - centre) - radians_of(lags[c]));
    if (meter.closed) load[1] = -load[0] - load[2];
    return load;
}

readings::Snapshot exactly(std::vector<Shown> const& shown) {
    readings::Snapshot snapshot;
    std::optional<Phasor> zero;
    for (auto const& element : shown) {
        Phasor const v = element.v.value_or(0.0);
        Phasor const s = v * std::conj(element.i);
        snapshot.v.emplace_back(std::abs(v));
        snapshot.i.emplace_back(std::abs(element.i));
        snapshot.p.emplace_back(s.real());
        snapshot.q.emplace_back(s.imag());
        bool const has_volts = std::abs(v) > 3.0;
        if (has_volts && !zero) zero = v;
        snapshot.v_angle.emplace_back();
        if (has_volts) snapshot.v_angle.back() = degrees_of(v / *zero);
    }
    return snapshot;
}

// The mistakes of one and of two, each landing once.
std::vector<std::vector<Mistake>> all_up_to_two(Meter const& meter) {
    std::vector<Mistake> possible;
    for (auto const& one : mistakes_of(meter, diagnosis::odds_for(readings::Prior::commissioning)))
        if (stressful(one, true)) possible.push_back(one);
    std::vector<std::vector<Mistake>> sets{{}};
    for (std::size_t a = 0; a < possible.size(); ++a) {
        sets.push_back({possible[a]});
        for (std::size_t b = a + 1; b < possible.size(); ++b)
            if (fits(possible[b], {possible[a]})) sets.push_back({possible[a], possible[b]});
    }
    std::set<Landing> seen;
    std::erase_if(sets, [&](auto const& made) { return !seen.insert(landing_of(meter, made)).second; });
    return sets;
}
}  // namespace

Identities identities_of(Meter const& meter) {
    Likeness const likeness(meter, true, true);
    diagnosis::Diagnoser diagnoser;
    auto const supply = nominal_supply(meter, Turn::abc);
    auto const load = plain_load(meter, supply);
    Phasor true_va{};
    for (std::size_t c = 0; c < load.size(); ++c) true_va += supply[c] * std::conj(load[c]);
    Identities result;
    for (auto const& made : all_up_to_two(meter)) {
        auto const landing = landing_of(meter, made);
        readings::ReadingSet set;
        set.id = "exact";
        set.service = meter.service;
        set.nominal = {meter.v_ln, meter.v_ll, 50.0};
        set.ct_planned = {{breaker_a, 5.0}};
        set.ct_output = plan::CtOutput::five_amperes;
        set.breaker_a = breaker_a;
        set.rotation = plan::Sequence::abc;
        set.flow = plan::Flow::import_only;
        set.snapshots.push_back(exactly(shown_by(meter, landing, supply, load)));
        ++result.landings;
        auto const verdict = diagnoser.diagnose(set, diagnosis::Asking::verdict_only);
        bool named = false;
        for (std::size_t c = 0; c < verdict.classes.size() && !named; ++c) {
            auto const& one = verdict.classes[c];
            named = is_right(likeness, landing, landings_of(one));
            if (!named) continue;
            result.first += c == 0 ? 1 : 0;
            if (!one.true_power.p_w) continue;
            ++result.recoverable;
            double const error = std::abs(*one.true_power.p_w - true_va.real()) / std::abs(true_va);
            result.largest_error = std::max(result.largest_error, error);
        }
        result.named += named ? 1 : 0;
        if (!named) result.unnamed.push_back(words_of(made));
    }
    return result;
}

}  // namespace phasewright::benchmarks
