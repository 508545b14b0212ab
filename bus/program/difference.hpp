// What is planned beside what is in the meter: one row a setting. Nothing here touches a line.
#pragma once
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "bus/program/journal.hpp"
#include "bus/program/meter_state.hpp"
#include "core/plan/site.hpp"

namespace phasewright::program {

// What the plan wants of a meter. The clock's number is the drift it should have: 0.
using Wanted = std::map<profile::SettingName, double>;
[[nodiscard]] Wanted wanted_of(plan::MeteringPoint const& point, plan::Site const& site);

enum class RowState {
    as_planned,
    would_write,
    not_planned,   // the plan says nothing of it
    cannot_read,   // the meter does not show it, or holds what the profile has no word for
    cannot_write,  // it differs, and the profile, the value or the meter's seal forbids to write it
};
[[nodiscard]] std::string_view name_of(RowState state);  // "would-write"

struct Row {
    profile::SettingName setting = profile::SettingName::ct_primary;
    std::optional<double> planned, in_meter;
    RowState state = RowState::as_planned;
    std::string why;  // a sentence without a full stop, where the state alone does not say it
};

// In the order in which they would be written. Settings that neither the plan nor the profile has are left
// out.
[[nodiscard]] std::vector<Row> differences(profile::Profile const& profile, Wanted const& wanted,
                                           MeterState const& state);

// "200 A"; the clock as its drift: "4.2 s fast"
[[nodiscard]] std::string value_words(profile::SettingName name, double value);

// The writes that the rows ask for, with what stands there now.
[[nodiscard]] std::vector<Step> steps_of(profile::Profile const& profile, std::vector<Row> const& rows,
                                         MeterState const& state);

// The setting's own registers as they were read.
[[nodiscard]] std::vector<profile::SettingRun> registers_now(profile::Setting const& setting,
                                                             profile::RegisterImage const& image);

}  // namespace phasewright::program
