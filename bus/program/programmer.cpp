#include "bus/program/programmer.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "bus/program/session.hpp"

namespace phasewright::program {

namespace {

using profile::SettingName;

MeterResult result_for(Job const& job) { return {.point = job.point, .meter = {}, .unit = job.unit}; }

std::optional<double> zone_in(MeterState const& state) {
    auto const zone = state.settings.find(SettingName::time_zone);
    return zone == state.settings.end() ? std::nullopt : std::optional(zone->second);
}

Begin begin_of(Purpose purpose, Job const& job, Connection const& connection, std::uint8_t unit,
               MeterState const& state) {
    return {.purpose = purpose,
            .of = {},
            .point = job.point,
            .place = job.place,
            .profile = job.profile_name,
            .meter = state.meter,
            .serial = state.serial,
            .unit = unit,
            .format = connection.format(),
            .found = state.settings,
            .clock_uncertainty_s = state.clock_uncertainty_s,
            .steps = {}};
}

std::optional<MeterState> look(Connection& connection, Job const& job, Wanted const& wanted,
                               MeterResult& result) {
    Reader const reader{connection.line(), *job.profile, job.unix_now, job.planned_offset_min};
    auto state = read_state(reader, job.unit);
    if (!state) {
        result.failed = codec::to_finding(state.error());
        return std::nullopt;
    }
    result.meter = state->meter;
    result.format = connection.format();
    result.notes = state->notes;
    result.rows = differences(*job.profile, wanted, *state);
    if (state->meter.empty())
        result.notes.emplace_back(
            "the meter tells nothing of itself: that it is the planned one is not checked");
    if (!job.planned_serial.empty() && !state->serial.empty() && state->serial != job.planned_serial)
        result.notes.push_back(fmt::format("the plan names the serial number {}, the meter says {}",
                                           job.planned_serial, state->serial));
    return std::move(*state);
}

bool is_another(Job const& job, MeterState const& state) {
    return !job.planned_serial.empty() && !state.serial.empty() && state.serial != job.planned_serial;
}

// Every address and format that the steps of a run lead through.
struct Place {
    std::uint8_t unit = 1;
    std::optional<plan::SerialFormat> format;
};
std::vector<Place> places_of(Run const& run, profile::Profile const& profile) {
    bool const own_stop_bits = !profile::find_setting(profile, SettingName::stop_bits);
    std::vector<std::uint8_t> units{static_cast<std::uint8_t>(run.begin.unit)};
    std::vector<std::optional<plan::SerialFormat>> formats{run.begin.format};
    auto format = run.begin.format;
    for (auto const& step : run.begin.steps) {
        if (!step.to) continue;
        if (step.setting == SettingName::address && *step.to >= 1.0 && *step.to <= 247.0)
            units.push_back(static_cast<std::uint8_t>(*step.to));
        if (!format || step.setting <= SettingName::address) continue;
        if (step.setting == SettingName::bit_rate) format->bit_rate = static_cast<int>(*step.to);
        if (step.setting == SettingName::parity) {
            format->parity = static_cast<plan::Parity>(static_cast<int>(*step.to));
            if (own_stop_bits) format->stop_bits = usual_stop_bits(profile, format->parity);
        }
        if (step.setting == SettingName::stop_bits) format->stop_bits = static_cast<int>(*step.to);
        formats.push_back(format);
    }
    for (std::size_t at = 0, count = formats.size(); own_stop_bits && count > 1 && at < count; ++at) {
        auto other = formats[at];
        if (!other) continue;
        other->stop_bits = 3 - other->stop_bits;
        formats.push_back(other);
    }
    std::vector<Place> places;
    for (auto const& one : formats)
        for (auto const unit : units) places.push_back({unit, one});
    return places;
}

MeterResult take_up(Connection& connection, Job const& job, Run const& run, Purpose purpose,
                    std::vector<Step> steps, Journal& journal) {
    auto result = result_for(job);
    Session session(connection, job, journal, purpose);
    bool found = false;
    for (auto const& place : places_of(run, *job.profile)) {
        if (place.format && connection.format() && place.format != connection.format() &&
            !connection.reopen(*place.format))
            continue;
        auto const there = read_identity(session.reader(), place.unit);
        if (!there || there->meter != run.begin.meter) continue;
        session.moved_to(place.unit);
        found = true;
        break;
    }
    if (!found) {
        result.failed = fmt::format(
            R"(the meter "{}" was not found at any address and format that it may have been left at)",
            run.begin.meter);
        return result;
    }
    auto const state = read_state(session.reader(), session.unit());
    if (!state) {
        result.failed = codec::to_finding(state.error());
        return result;
    }
    result.meter = state->meter;
    result.notes = state->notes;
    session.knows_offset(zone_in(*state));
    auto begin = begin_of(purpose, job, connection, session.unit(), *state);
    begin.of = run.name;
    begin.steps = std::move(steps);
    session.run(begin, result);
    return result;
}

}  // namespace

MeterResult compare_meter(Connection& connection, Job const& job, Wanted const& wanted) {
    auto result = result_for(job);
    if (auto const state = look(connection, job, wanted, result)) {
        result.whole = std::ranges::all_of(result.rows, [](Row const& row) {
            return row.state == RowState::as_planned || row.state == RowState::not_planned;
        });
    }
    return result;
}

MeterResult program_meter(Connection& connection, Job const& job, Wanted const& wanted, Journal& journal) {
    auto result = result_for(job);
    auto const state = look(connection, job, wanted, result);
    if (!state) return result;
    if (is_another(job, *state)) {
        result.failed = "this is another meter than the plan names; nothing was written";
        return result;
    }
    if (job.profile->legal) {
        result.failed = "this meter is sealed or its counts are billed: it is never written";
        return result;
    }
    auto steps = steps_of(*job.profile, result.rows, *state);
    result.unit = job.unit;
    bool const rest_is_right = std::ranges::none_of(result.rows, [](Row const& row) {
        return row.state == RowState::cannot_read || row.state == RowState::cannot_write;
    });
    if (steps.empty()) {
        result.whole = rest_is_right;
        return result;
    }
    Session session(connection, job, journal, Purpose::program);
    session.knows_offset(zone_in(*state));
    auto begin = begin_of(Purpose::program, job, connection, job.unit, *state);
    begin.steps = std::move(steps);
    session.run(begin, result);
    result.whole = result.whole && rest_is_right;
    return result;
}

MeterResult finish_run(Connection& connection, Job const& job, std::vector<Run> const&, Run const& run,
                       Journal& journal) {
    auto const purpose = run.begin.purpose == Purpose::undo ? Purpose::undo : Purpose::finish;
    return take_up(connection, job, run, purpose, steps_to_finish(run), journal);
}

MeterResult undo_run(Connection& connection, Job const& job, std::vector<Run> const& runs, Run const& run,
                     Journal& journal) {
    return take_up(connection, job, run, Purpose::undo, steps_to_undo(runs, run), journal);
}

}  // namespace phasewright::program
