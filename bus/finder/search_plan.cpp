#include "bus/finder/search_plan.hpp"

#include <algorithm>
#include <cmath>

namespace phasewright::finder {

namespace {
using plan::Parity;
using plan::SerialFormat;

constexpr double question_characters = 8.0;  // unit, function, address, count, CRC
constexpr double answer_characters = 7.0;    // unit, function, byte count, one register, CRC

// Asked in every format before any format is asked for all its units: the addresses that meters are delivered with
// (common practice, no source).
constexpr std::uint8_t last_of_first_round = 3;
}  // namespace

std::vector<SerialFormat> usual_formats() {
    return {
        {19200, Parity::even, 1}, {9600, Parity::even, 1},  {9600, Parity::none, 1},   {9600, Parity::none, 2},
        {19200, Parity::none, 1}, {19200, Parity::none, 2}, {38400, Parity::even, 1},  {38400, Parity::none, 1},
        {9600, Parity::odd, 1},   {19200, Parity::odd, 1},  {115200, Parity::none, 1}, {57600, Parity::even, 1},
        {57600, Parity::none, 1}, {4800, Parity::even, 1},  {4800, Parity::none, 1},   {115200, Parity::even, 1},
        {2400, Parity::even, 1},  {2400, Parity::none, 1},  {38400, Parity::none, 2},  {1200, Parity::even, 1},
    };
}

int probe_wait_ms(SerialFormat const& format, int device_ms) {
    return device_ms + static_cast<int>(std::ceil(1000.0 * answer_characters * plan::character_s(format)));
}

SearchPlan::SearchPlan(SearchSettings settings) : settings_(std::move(settings)), silent_(settings_.formats.size()) {
    std::vector<std::uint8_t> planned;
    for (auto const unit : settings_.planned)
        if (std::find(planned.begin(), planned.end(), unit) == planned.end()) planned.push_back(unit);
    settings_.planned = planned;
    auto const in_range = [&](int unit) { return unit >= settings_.first && unit <= settings_.last; };
    auto const is_planned = [&](int unit) {
        return std::find(planned.begin(), planned.end(), unit) != planned.end();
    };
    std::vector<Pending> first_round, rest;
    for (std::size_t format = 0; format < settings_.formats.size(); ++format) {
        for (auto const unit : planned) first_round.push_back({.format = format, .unit = unit});
        for (int unit = 1; unit <= 247; ++unit) {
            if (!in_range(unit) || is_planned(unit)) continue;
            auto& round = unit <= last_of_first_round ? first_round : rest;
            round.push_back({.format = format, .unit = static_cast<std::uint8_t>(unit)});
        }
    }
    pending_ = std::move(first_round);
    pending_.insert(pending_.end(), rest.begin(), rest.end());
    std::reverse(pending_.begin(), pending_.end());
}

int SearchPlan::wait_ms(Pending const& pending) const {
    int const device_ms = pending.patient ? settings_.patient_wait_ms : settings_.quick_wait_ms;
    return settings_.timed ? probe_wait_ms(settings_.formats[pending.format], device_ms) : device_ms;
}

std::optional<Probe> SearchPlan::next() const {
    if (pending_.empty()) return std::nullopt;
    auto const& pending = pending_.back();
    return Probe{settings_.formats[pending.format], pending.unit, wait_ms(pending), pending.patient};
}

double SearchPlan::expected_s(Pending const& pending) const {
    auto const& format = settings_.formats[pending.format];
    double const on_wire_s =
        settings_.timed ? question_characters * plan::character_s(format) + plan::silence_between_s(format) : 0.0;
    double const computed_s = on_wire_s + 1e-3 * wait_ms(pending);
    // What silence took beyond its computed time (system, adapter) comes on top, as measured so far.
    Measured all;
    for (auto const& measured : silent_) {
        all.sum_s += measured.sum_s;
        all.count += measured.count;
    }
    auto const& own = silent_[pending.format];
    auto const& used = own.count > 0 ? own : all;
    // A gateway may say early that nothing is there: then a probe takes less than its wait.
    return used.count == 0 ? computed_s
                           : std::max(0.0, computed_s + used.sum_s / static_cast<double>(used.count));
}

double SearchPlan::time_left_s() const {
    // Patient questions that silence will bring are counted too.
    double sum_s = 0.0;
    for (auto const& pending : pending_) sum_s += expected_s(pending);
    if (!asked_again_ && !settings_.formats.empty())
        for (auto const unit : settings_.planned)
            if (!heard_anywhere(unit)) sum_s += expected_s({.format = settled_.value_or(0), .unit = unit, .patient = true});
    return sum_s;
}

bool SearchPlan::is_hit(std::size_t format, std::uint8_t unit) const {
    return std::any_of(hits_.begin(), hits_.end(), [&](Hit const& hit) {
        return hit.unit == unit && hit.format == settings_.formats[format];
    });
}

bool SearchPlan::heard_anywhere(std::uint8_t unit) const {
    return std::any_of(hits_.begin(), hits_.end(), [&](Hit const& hit) { return hit.unit == unit; });
}

void SearchPlan::ask_first(Pending const& pending) {
    std::erase_if(pending_, [&](Pending const& other) {
        return other.format == pending.format && other.unit == pending.unit && other.patient == pending.patient;
    });
    pending_.push_back(pending);
}

void SearchPlan::leave_out_other_formats() {
    if (settings_.all_formats || !settled_) return;
    std::erase_if(pending_, [&](Pending const& pending) {
        if (pending.hint) return false;
        return std::none_of(hits_.begin(), hits_.end(), [&](Hit const& hit) {
            return hit.format == settings_.formats[pending.format];
        });
    });
}

void SearchPlan::take_hit(std::size_t format, std::uint8_t unit, double took_s) {
    if (is_hit(format, unit)) return;
    hits_.push_back({settings_.formats[format], unit, took_s});
    if (!settled_) settled_ = format;
    std::erase_if(pending_, [&](Pending const& pending) { return pending.format == format && pending.unit == unit; });
    // A unit that answered is no longer looked for elsewhere, hint or not.
    if (!settings_.all_formats)
        std::erase_if(pending_, [&](Pending const& pending) { return pending.hint && pending.unit == unit; });
    leave_out_other_formats();
}

void SearchPlan::take_garbage(Pending const& done, double took_s) {
    if (!done.patient) {
        // Once more, slowly: a lone disturbance does not come twice.
        ask_first({.format = done.format, .unit = done.unit, .patient = true, .hint = done.hint});
        return;
    }
    doubtful_.push_back({settings_.formats[done.format], done.unit, took_s});
    // Formats of the same speed last, so that they are asked next: a wrong parity still lets bytes through, a wrong
    // speed seldom does.
    std::vector<std::size_t> order;
    for (std::size_t format = 0; format < settings_.formats.size(); ++format)
        if (format != done.format) order.push_back(format);
    auto const same_speed = [&](std::size_t format) {
        return settings_.formats[format].bit_rate == settings_.formats[done.format].bit_rate;
    };
    std::reverse(order.begin(), order.end());
    std::stable_partition(order.begin(), order.end(), [&](std::size_t format) { return !same_speed(format); });
    bool const known_elsewhere = done.hint;  // it is asked everywhere already
    if (known_elsewhere || heard_anywhere(done.unit)) return;
    for (auto const format : order)
        if (!is_hit(format, done.unit)) ask_first({.format = format, .unit = done.unit, .hint = true});
}

void SearchPlan::ask_again_for_missing() {
    asked_again_ = true;
    if (settings_.formats.empty()) return;
    std::vector<Pending> again;
    for (auto const unit : settings_.planned) {
        if (heard_anywhere(unit)) continue;
        again.push_back({.format = settled_.value_or(0), .unit = unit, .patient = true});
        // A meter still set as it was delivered: looked for in the other formats, once something else has answered.
        // Where nothing answered, every format has been asked already.
        if (!settled_ || settings_.all_formats) continue;
        for (std::size_t format = 0; format < settings_.formats.size(); ++format)
            if (format != *settled_) again.push_back({.format = format, .unit = unit, .hint = true});
    }
    pending_.insert(pending_.end(), again.rbegin(), again.rend());
}

void SearchPlan::heard(ProbeOutcome const& outcome) {
    if (pending_.empty()) return;
    auto const done = pending_.back();
    auto const& format = settings_.formats[done.format];
    double const on_wire_s =
        settings_.timed ? question_characters * plan::character_s(format) + plan::silence_between_s(format) : 0.0;
    double const computed_s = on_wire_s + 1e-3 * wait_ms(done);
    pending_.pop_back();
    ++asked_;
    switch (outcome.came) {
        case Came::nothing:
            silent_[done.format].sum_s += outcome.took_s - computed_s;
            ++silent_[done.format].count;
            break;
        case Came::answer: take_hit(done.format, done.unit, outcome.took_s); break;
        case Came::garbage: take_garbage(done, outcome.took_s); break;
        case Came::other_unit:
            take_hit(done.format, outcome.answering, outcome.took_s);
            // The answer of the other one may have covered this one's.
            if (!done.patient && !is_hit(done.format, done.unit))
                ask_first({.format = done.format, .unit = done.unit, .patient = true, .hint = done.hint});
            break;
    }
    if (pending_.empty() && !asked_again_) ask_again_for_missing();
}

}  // namespace phasewright::finder
