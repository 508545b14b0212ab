#include "bus/poller/sanity.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <tuple>

#include <fmt/format.h>

#include "bus/poller/counter.hpp"

namespace phasewright::poller {

namespace {

Note note_of(NoteKind kind, Reading const& reading, std::string says) {
    return {kind, reading.line, reading.point, reading.time, reading.at_s, std::move(says)};
}

std::optional<double> at(readings::Column const& column, std::size_t element) {
    return element < column.size() ? column[element] : std::nullopt;
}

bool vanished(std::optional<double> before, std::optional<double> now) {
    return before && now && *before > 0.0 && *now == 0.0;
}

// Each quantity that cannot fall to zero by itself, before and after, with its name.
struct Pair {
    std::string name;
    std::optional<double> before, now;
};
std::vector<Pair> zero_watched(Reading const& before, Reading const& now) {
    std::vector<Pair> pairs;
    for (std::size_t k = 0; k < now.snapshot.v.size(); ++k)
        pairs.push_back(
            {fmt::format("the voltage of element {}", k + 1), at(before.snapshot.v, k), now.snapshot.v[k]});
    pairs.push_back({"the frequency", before.snapshot.hz, now.snapshot.hz});
    for (auto const& counter : now.counters) {
        auto const known = std::ranges::find(before.counters, counter.name, &Counter::name);
        if (known != before.counters.end() && !counter.habit.may_fall)
            pairs.push_back({"the register " + counter.name, known->value, counter.value});
    }
    return pairs;
}

bool same_snapshot(readings::Snapshot const& one, readings::Snapshot const& other) {
    auto const all = [](readings::Snapshot const& of) {
        return std::tie(of.v, of.i, of.p, of.q, of.s, of.pf, of.v_ll, of.v_angle, of.i_angle, of.thd_i,
                        of.i_n, of.hz, of.p_total, of.q_total, of.s_total, of.pf_total);
    };
    return all(one) == all(other);
}

}  // namespace

bool same_numbers(Reading const& one, Reading const& other) {
    return same_snapshot(one.snapshot, other.snapshot) && one.counters == other.counters;
}

Expected expected_of(plan::MeteringPoint const& point, plan::Nominal const& nominal) {
    auto const model = plan::model_of(point.service, point.model_options);
    auto const source = plan::source_phasors(model, nominal, plan::Sequence::abc);
    auto const of = [&](plan::Conductor conductor) { return source[static_cast<std::size_t>(conductor)]; };
    auto const tap = [&](int terminal) { return of(model.terminals[static_cast<std::size_t>(terminal)]); };
    std::complex<double> star{};
    for (auto const live : model.live) star += of(live) / static_cast<double>(model.live.size());
    Expected expected{.v = {}, .v_ll = {}, .hz = {}, .breaker_a = point.breaker_a};
    for (auto const& element : model.elements) {
        auto const minus = element.minus == plan::to_neutral_terminal ? of(plan::Conductor::n)
                           : element.minus == plan::to_star_point     ? star
                                                                      : tap(element.minus);
        expected.v.push_back(std::abs(tap(element.plus) - minus));
    }
    // Nothing is known of a voltage that the plan does not state.
    if (std::ranges::any_of(expected.v, [](double v) { return v <= 0.0; })) expected.v.clear();
    if (nominal.v_ll > 0.0) expected.v_ll = nominal.v_ll;
    if (nominal.hz > 0.0) expected.hz = nominal.hz;
    return expected;
}

std::vector<Event> Sanity::judge(Reading reading) {
    std::vector<Event> out;
    if (held_) settle_held(reading, out);
    if (doubtful_zero(reading)) {
        held_ = std::move(reading);
        return out;
    }
    pass(std::move(reading), out);
    return out;
}

std::vector<Event> Sanity::flush() {
    std::vector<Event> out;
    if (!held_) return out;
    auto last = std::move(*held_);
    held_.reset();
    pass(std::move(last), out);
    return out;
}

bool Sanity::doubtful_zero(Reading const& reading) const {
    return before_ && std::ranges::any_of(zero_watched(*before_, reading),
                                          [](Pair const& pair) { return vanished(pair.before, pair.now); });
}

// The reading before the zero, the zero, and the one after it: everything that vanished must be back as it
// was.
void Sanity::settle_held(Reading const& next, std::vector<Event>& out) {
    auto held = std::move(*held_);
    held_.reset();
    auto const after = zero_watched(*before_, next);
    auto const most = most_energy(next.at_s - before_->at_s);
    std::vector<std::string> names;
    bool back = true;
    for (auto const& pair : zero_watched(*before_, held)) {
        if (!vanished(pair.before, pair.now)) continue;
        names.push_back(pair.name);
        auto const again = std::ranges::find(after, pair.name, &Pair::name);
        if (again == after.end() || !again->now) {
            back = false;
            continue;
        }
        double const moved = *again->now - *pair.before;
        bool const counter = pair.name.starts_with("the register");
        back = back && (counter ? moved >= 0.0 && (!most || moved <= *most)
                                : std::abs(moved) <= limits_.equal_within * *pair.before);
    }
    if (!back) return pass(std::move(held), out);
    std::string all = names.front();
    for (std::size_t k = 1; k < names.size(); ++k) all += (k + 1 == names.size() ? " and " : ", ") + names[k];
    out.emplace_back(note_of(
        NoteKind::zero_glitch, held,
        fmt::format("{} read zero once, between two readings that agree; this reading is dropped", all)));
}

void Sanity::pass(Reading reading, std::vector<Event>& out) {
    std::vector<Event> notes;
    check_ranges(reading, notes);
    if (before_) {
        check_steps(reading, notes);
        check_counters(reading, notes);
    }
    check_stale(reading, notes);
    before_ = reading;
    out.emplace_back(std::move(reading));
    std::ranges::move(notes, std::back_inserter(out));
}

void Sanity::tell_once(NoteKind kind, std::string const& quantity, bool wrong, Reading const& reading,
                       std::string const& says, std::vector<Event>& out) {
    if (!wrong) {
        told_.erase({kind, quantity});
        return;
    }
    if (told_.emplace(kind, quantity).second) out.emplace_back(note_of(kind, reading, says));
}

void Sanity::check_ranges(Reading const& reading, std::vector<Event>& out) {
    auto const& seen = reading.snapshot;
    auto const range = [&](std::string const& name, std::optional<double> value, double least, double most,
                           std::string_view unit) {
        if (!value) return;
        tell_once(NoteKind::out_of_range, name, *value < least || *value > most, reading,
                  fmt::format("{} reads {:.4g}{}, outside {:.4g} to {:.4g}", name, *value, unit, least, most),
                  out);
    };
    for (std::size_t k = 0; k < seen.v.size() && k < expected_.v.size(); ++k)
        range(fmt::format("the voltage of element {}", k + 1), seen.v[k], 0.0,
              limits_.v_most * expected_.v[k], " V");
    for (std::size_t k = 0; k < seen.v_ll.size() && expected_.v_ll; ++k)
        range(fmt::format("line voltage {}", k + 1), seen.v_ll[k], 0.0, limits_.v_most * *expected_.v_ll,
              " V");
    if (expected_.hz)
        range("the frequency", seen.hz, (1.0 - limits_.hz_off) * *expected_.hz,
              (1.0 + limits_.hz_off) * *expected_.hz, " Hz");
    for (std::size_t k = 0; k < seen.pf.size(); ++k)
        range(fmt::format("the power factor of element {}", k + 1), seen.pf[k], -limits_.pf_most,
              limits_.pf_most, "");
    range("the power factor of the total", seen.pf_total, -limits_.pf_most, limits_.pf_most, "");
    for (std::size_t k = 0; k < seen.i.size() && expected_.breaker_a; ++k) {
        if (!seen.i[k]) continue;
        double const most = limits_.current_most * *expected_.breaker_a;
        tell_once(NoteKind::over_current, fmt::format("i{}", k), std::abs(*seen.i[k]) > most, reading,
                  fmt::format("element {} carries {:.4g} A behind a breaker of {:.4g} A", k + 1, *seen.i[k],
                              *expected_.breaker_a),
                  out);
    }
}

void Sanity::check_steps(Reading const& reading, std::vector<Event>& out) const {
    for (std::size_t k = 0; k < reading.snapshot.v.size() && k < expected_.v.size(); ++k) {
        auto const was = at(before_->snapshot.v, k);
        auto const is = reading.snapshot.v[k];
        if (!was || !is || std::abs(*is - *was) <= limits_.v_step * expected_.v[k]) continue;
        out.emplace_back(
            note_of(NoteKind::voltage_step, reading,
                    fmt::format("the voltage of element {} went from {:.4g} V to {:.4g} V within {:.3g} s",
                                k + 1, *was, *is, reading.at_s - before_->at_s)));
    }
}

std::optional<double> Sanity::most_energy(double seconds) const {
    if (!expected_.breaker_a || expected_.v.empty()) return std::nullopt;
    double volts = 0.0;
    for (double const v : expected_.v) volts += v;
    return limits_.energy_margin * volts * *expected_.breaker_a * std::max(seconds, 0.0) / 3600.0;
}

void Sanity::check_counters(Reading const& reading, std::vector<Event>& out) const {
    auto const most = most_energy(reading.at_s - before_->at_s);
    for (auto const& counter : reading.counters) {
        auto const known = std::ranges::find(before_->counters, counter.name, &Counter::name);
        if (known == before_->counters.end() || !known->value || !counter.value) continue;
        auto const step = judged_step(*known->value, *counter.value, counter.habit, most);
        if (step.note)
            out.emplace_back(note_of(*step.note, reading, "the register " + counter.name + " " + step.says));
    }
}

void Sanity::check_stale(Reading const& reading, std::vector<Event>& out) {
    if (!before_ || !same_numbers(*before_, reading)) {
        if (stale_) out.emplace_back(note_of(NoteKind::changing_again, reading, "the numbers change again"));
        stale_ = false;
        same_since_s_ = reading.at_s;
        same_readings_ = 1;
        return;
    }
    ++same_readings_;
    double const same_s = reading.at_s - same_since_s_;
    if (stale_ || same_readings_ < limits_.stale_readings || same_s < limits_.stale_after_s) return;
    stale_ = true;
    out.emplace_back(
        note_of(NoteKind::stale, reading,
                fmt::format("not one number has changed in {} readings over {:.0f} s: the meter or a "
                            "gateway may repeat itself",
                            same_readings_, same_s)));
}

}  // namespace phasewright::poller
