#include "bus/program/difference.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace phasewright::program {

namespace {

using profile::SettingName;

constexpr double clock_tolerance_s = 2.0;  // this project's choice: a person with a watch cannot see less

bool same(SettingName name, double planned, double in_meter, MeterState const& state) {
    if (name == SettingName::clock)
        return std::abs(in_meter - planned) <= clock_tolerance_s + state.clock_uncertainty_s.value_or(0.0);
    return std::abs(planned - in_meter) <= 1e-6 * std::max(1.0, std::abs(planned));
}

void judge_write(profile::Profile const& profile, profile::Setting const* setting, Row& row) {
    row.state = RowState::cannot_write;
    if (setting == nullptr) {
        row.why = "the profile does not list this setting";
        return;
    }
    if (profile.legal) {
        row.why = "this meter is sealed or its counts are billed: it is never written";
        return;
    }
    double const value = setting->clock ? 0.0 : *row.planned;
    if (auto const fault = profile::not_allowed(*setting, value)) {
        row.why = fault->what + (fault->allowed.empty() ? "" : "; allowed: " + fault->allowed);
        return;
    }
    if (!setting->clock) {
        if (auto const runs = profile::runs_for(*setting, value); !runs) {
            row.why = runs.error().what;
            return;
        }
    }
    row.state = RowState::would_write;
}

}  // namespace

Wanted wanted_of(plan::MeteringPoint const& point, plan::Site const& site) {
    Wanted wanted;
    wanted[SettingName::ct_primary] = point.ct.ratio.primary;
    wanted[SettingName::ct_secondary] = point.ct.ratio.secondary;
    if (point.vt) {
        wanted[SettingName::vt_primary] = point.vt->primary;
        wanted[SettingName::vt_secondary] = point.vt->secondary;
    }
    wanted[SettingName::service] = static_cast<double>(point.service);
    if (point.demand_interval_min) wanted[SettingName::demand_interval] = *point.demand_interval_min;
    if (site.utc_offset_min) wanted[SettingName::time_zone] = *site.utc_offset_min;
    wanted[SettingName::clock] = 0.0;
    bool const behind = !point.address.serial_line.empty() || !point.address.gateway.empty();
    if (behind) wanted[SettingName::address] = point.address.unit;
    auto const line = std::ranges::find(site.serial_lines, point.address.serial_line, &plan::SerialLine::id);
    if (line != site.serial_lines.end()) {
        wanted[SettingName::bit_rate] = line->format.bit_rate;
        wanted[SettingName::parity] = static_cast<double>(line->format.parity);
        wanted[SettingName::stop_bits] = line->format.stop_bits;
    }
    return wanted;
}

std::string_view name_of(RowState state) {
    switch (state) {
        case RowState::as_planned: return "as-planned";
        case RowState::would_write: return "would-write";
        case RowState::not_planned: return "not-planned";
        case RowState::cannot_read: return "cannot-read";
        case RowState::cannot_write: return "cannot-write";
    }
    return "as-planned";
}

std::string value_words(SettingName name, double value) {
    if (name != SettingName::clock) return profile::words_of(name, value);
    if (value == 0.0) return "right";
    double const off = std::abs(value);
    auto const way = value > 0.0 ? "fast" : "slow";
    if (off < 600.0) return fmt::format("{:.1f} s {}", off, way);
    if (off < 172800.0) return fmt::format("{:.0f} min {}", off / 60.0, way);
    return fmt::format("{:.0f} days {}", off / 86400.0, way);
}

std::vector<Row> differences(profile::Profile const& profile, Wanted const& wanted, MeterState const& state) {
    std::vector<Row> rows;
    for (auto const name : profile::all_setting_names) {
        auto const* const setting = profile::find_setting(profile, name);
        auto const planned = wanted.find(name);
        auto const in_meter = state.settings.find(name);
        bool const is_planned = planned != wanted.end();
        if (setting == nullptr &&
            (!is_planned || profile::changes_the_bus(name) || name >= SettingName::demand_interval))
            continue;  // a meter without a clock is no finding; one whose ratio cannot be seen is
        Row row{.setting = name};
        if (is_planned) row.planned = planned->second;
        if (in_meter != state.settings.end()) row.in_meter = in_meter->second;
        if (!is_planned) {
            row.state = RowState::not_planned;
        } else if (row.in_meter && same(name, *row.planned, *row.in_meter, state)) {
            row.state = RowState::as_planned;
        } else if (setting == nullptr) {
            row.state = RowState::cannot_read;
            row.why = "the profile does not list this setting: look at the meter itself";
        } else {
            bool const local = setting->clock && !setting->clock->utc && !row.in_meter;
            judge_write(profile, setting, row);
            if (local) {
                row.state = RowState::cannot_read;
                row.why =
                    "the meter keeps local time, and neither the plan nor the meter tells which, or it shows "
                    "no time";
            } else if (!row.in_meter && row.state == RowState::would_write &&
                       registers_now(*setting, state.image).empty()) {
                row.state = RowState::cannot_read;
                row.why = "the meter does not show it, so it could not be restored";
            } else if (!row.in_meter && row.state == RowState::would_write) {
                row.why = "the meter holds what the profile has no word for";
            }
        }
        rows.push_back(std::move(row));
    }
    return rows;
}

std::vector<profile::SettingRun> registers_now(profile::Setting const& setting,
                                               profile::RegisterImage const& image) {
    std::vector<profile::SettingRun> runs;
    for (auto const& piece : profile::setting_registers(setting)) {
        profile::SettingRun run{static_cast<std::uint16_t>(piece.first), {}};
        for (int at = 0; at < piece.count; ++at) {
            auto const value = profile::register_at(image, static_cast<codec::Function>(piece.function),
                                                    static_cast<std::uint32_t>(piece.first + at));
            if (!value) return {};
            run.values.push_back(*value);
        }
        runs.push_back(std::move(run));
    }
    return runs;
}

std::vector<Step> steps_of(profile::Profile const& profile, std::vector<Row> const& rows,
                           MeterState const& state) {
    std::vector<Step> steps;
    for (auto const& row : rows) {
        if (row.state != RowState::would_write) continue;
        auto const* const setting = profile::find_setting(profile, row.setting);
        Step step{.setting = row.setting, .from = row.in_meter, .to = row.planned};
        if (!setting->clock) {
            step.from_registers = registers_now(*setting, state.image);
            if (auto runs = profile::runs_for(*setting, *row.planned)) step.to_registers = std::move(*runs);
        }
        steps.push_back(std::move(step));
    }
    return steps;
}

}  // namespace phasewright::program
