// What can be set in a meter: where it stands, what it may be, and what must be written before and after it.
// docs/reference/profile.md, "[settings.NAME]", is the file format; bus/program is what writes.
//
// Every setting is one number, so that two of them can be compared: amperes or volts of a ratio, the plan's
// service or parity by its place in its enum, minutes, seconds since 1970. words_of() says it as a person
// would.
#pragma once
#include <array>
#include <cstdint>
#include <expected>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bus/profile/field.hpp"
#include "bus/profile/register_image.hpp"
#include "core/plan/read_grouping.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::profile {

struct Profile;

enum class SettingName {
    ct_primary,       // A
    ct_secondary,     // A, or V for voltage outputs
    vt_primary,       // V
    vt_secondary,     // V
    service,          // plan::Service
    demand_interval,  // minutes
    time_zone,        // minutes that local time is ahead of UTC
    clock,            // seconds since 1970-01-01 00:00, UTC or local as the meter keeps it
    address,          // unit id, 1 to 247
    bit_rate,         // bit/s
    parity,           // plan::Parity
    stop_bits,        // 1 or 2
};
inline constexpr std::array all_setting_names{
    SettingName::ct_primary, SettingName::ct_secondary,    SettingName::vt_primary, SettingName::vt_secondary,
    SettingName::service,    SettingName::demand_interval, SettingName::time_zone,  SettingName::clock,
    SettingName::address,    SettingName::bit_rate,        SettingName::parity,     SettingName::stop_bits};
[[nodiscard]] std::string_view name_of(SettingName name);  // "ct_primary"
[[nodiscard]] std::optional<SettingName> setting_name_of(std::string_view name);
[[nodiscard]] std::string_view words_of(SettingName name);           // "CT primary"
[[nodiscard]] std::string words_of(SettingName name, double value);  // "200 A", "3P4W", "even"
[[nodiscard]] bool changes_the_bus(SettingName name);                // address, bit_rate, parity, stop_bits
[[nodiscard]] bool is_ratio(SettingName name);

enum class TakesEffect { at_once, after_restart, unknown };
enum class Rescales {
    no,
    yes,
    unknown
};  // are energies that were counted before shown anew by the new ratio?
[[nodiscard]] std::string_view name_of(TakesEffect when);  // "at-once"
[[nodiscard]] std::string_view name_of(Rescales rescales);

struct RegisterWrite {  // a password, a "save" command: what the meter wants written round a setting
    std::uint16_t address = 0;
    std::uint16_t value = 0;
};

struct AllowedValue {
    double value = 0.0;     // as above
    std::uint64_t raw = 0;  // what the register holds for it
};

// A clock in six numbers, or in one: seconds since 1970.
struct ClockParts {
    std::optional<Field> seconds;               // since 1970-01-01 00:00
    std::array<std::optional<Field>, 6> parts;  // year, month, day, hour, minute, second
    int year_zero = 0;                          // the year that the register's 0 stands for
    bool utc = true;                            // else the meter keeps local time
};

struct Setting {
    SettingName name = SettingName::ct_primary;
    std::optional<Field> field;   // where it is read; empty for a fixed one and for a clock
    std::optional<double> fixed;  // it cannot be anything else
    std::optional<ClockParts> clock;
    std::optional<codec::Function>
        write;                         // write_single_register or write_multiple_registers; empty: only read
    std::vector<AllowedValue> values;  // when not empty, nothing else
    bool mapped = false;               // what the register holds is told by `values` alone, not by its scale
    std::optional<double> least, most, step;  // else a range
    std::vector<RegisterWrite> before, after;
    TakesEffect takes_effect = TakesEffect::at_once;
    Rescales rescales_energy = Rescales::unknown;
};

[[nodiscard]] Setting const* find_setting(Profile const& profile, SettingName name);  // null when not listed
// The setting as the registers hold it; empty when they were not read, or hold what the profile does not
// list.
[[nodiscard]] std::optional<double> setting_in(Setting const& setting, RegisterImage const& image);
// Its registers, as pieces that must each come in one answer.
[[nodiscard]] std::vector<plan::RegisterRun> setting_registers(Setting const& setting);
// The same, in the order in which they may be written: consecutive ones together.
struct SettingRun {
    std::uint16_t address = 0;
    codec::Registers values;
};
// What would have to be written for this value. Refused: not listed as writable, a value that the profile
// does not allow, one that the register cannot hold exactly.
[[nodiscard]] std::expected<std::vector<SettingRun>, quantity::Fault> runs_for(Setting const& setting,
                                                                               double value);
[[nodiscard]] std::optional<quantity::Fault> not_allowed(Setting const& setting, double value);
// For virtual meters: the registers hold this value, allowed or not; nullopt is "not available".
void put_setting(RegisterImage& image, Setting const& setting, std::optional<double> value);

}  // namespace phasewright::profile
