// A meter as it is found: who it is, what it is set to, what it has counted, and how far its clock is off.
//   drift = meter's time - our time at the middle of the question
//   its uncertainty: half the time the question took, and half the second that the meter's clock cannot show
#pragma once
#include <expected>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "bus/codec/fault.hpp"
#include "bus/port/line.hpp"
#include "bus/profile/profile.hpp"

namespace phasewright::program {

using UnixClock = std::function<double()>;  // seconds since 1970, UTC

struct MeterState {
    std::string meter;   // who it says it is; empty when it tells nothing
    std::string serial;  // digits or text
    profile::RegisterImage image;
    std::map<profile::SettingName, double> settings;  // the clock as its drift, s
    std::optional<double> clock_uncertainty_s;
    std::vector<profile::EnergyCount> energies;
    std::vector<std::string> notes;
};

struct Reader {
    port::Line& line;
    profile::Profile const& profile;
    UnixClock unix_now;
    std::optional<int> planned_offset_min;  // of local clocks
};

// A refusal of one register run is a note; every other fault ends the reading.
[[nodiscard]] std::expected<MeterState, codec::Fault> read_state(Reader const& reader, std::uint8_t unit);
// Who answers there: identity and serial number only.
[[nodiscard]] std::expected<MeterState, codec::Fault> read_identity(Reader const& reader, std::uint8_t unit);
// One setting again; empty when the meter holds nothing that the profile has a word for.
struct OneSetting {
    std::optional<double> value;
    std::optional<double> clock_uncertainty_s;
    profile::RegisterImage image;
};
[[nodiscard]] std::expected<OneSetting, codec::Fault> read_setting(Reader const& reader, std::uint8_t unit,
                                                                   profile::Setting const& setting,
                                                                   std::optional<double> meter_offset_min);
// What the meter's own calendar says when ours says `unix_s`; empty for local time that nobody has stated.
[[nodiscard]] std::optional<double> meter_calendar_s(profile::Setting const& clock, double unix_s,
                                                     std::optional<double> meter_offset_min,
                                                     std::optional<int> planned_offset_min);
// The meter itself said that it has no such registers, functions or values. A gateway's "nobody answered" is
// none of that.
[[nodiscard]] bool refuses_registers(codec::Fault const& fault);
// What was asked for was surely not done. A gateway that heard nothing after a write leaves that open.
[[nodiscard]] bool surely_not_done(codec::Fault const& fault);

// "2026-05-20T08:00:00Z"
[[nodiscard]] std::string utc_words(double unix_s);

}  // namespace phasewright::program
