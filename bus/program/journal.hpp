// What was found, what was meant, how far it came: docs/reference/settings-journal.md.
#pragma once
#include <cstdint>
#include <expected>
#include <filesystem>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bus/profile/setting.hpp"
#include "core/plan/serial_line.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::program {

enum class Purpose { program, finish, undo };
enum class OldTotals { kept, rescaled, cannot_tell, mixed };
[[nodiscard]] std::string_view name_of(Purpose purpose);   // "program"
[[nodiscard]] std::string_view name_of(OldTotals totals);  // "cannot-tell"

struct Step {
    profile::SettingName setting = profile::SettingName::ct_primary;
    std::optional<double> from;  // empty: the profile has no word for what stood there
    std::optional<double> to;
    std::vector<profile::SettingRun> from_registers, to_registers;
    bool again = false;  // in doubt: written whole, even where the meter already holds it
};

struct Begin {
    Purpose purpose = Purpose::program;
    std::string of;  // run that is finished or undone
    std::string point, place, profile, meter, serial;
    int unit = 1;
    std::optional<plan::SerialFormat> format;
    std::map<profile::SettingName, double> found;
    std::optional<double> clock_uncertainty_s;
    std::vector<Step> steps;
};

enum class StepState { not_begun, in_doubt, done, given_up };

// A run as the journal tells it.
struct Run {
    std::string name;
    std::string time;
    Begin begin;
    std::vector<StepState> states;
    bool ended = false;
    std::string settled_by;  // a later run that finished or undid it, and ended
};

class Journal {
public:
    Journal() = default;
    Journal(Journal const&) = delete;
    Journal& operator=(Journal const&) = delete;
    Journal(Journal&&) = delete;
    Journal& operator=(Journal&&) = delete;
    virtual ~Journal() = default;
    // The line stands on the disk when this returns.
    [[nodiscard]] virtual std::expected<void, quantity::Fault> append(std::string const& line) = 0;
};

// Opens or makes the file and has it alone; a torn last line is ended first.
[[nodiscard]] std::expected<std::unique_ptr<Journal>, quantity::Fault> journal_file(
    std::filesystem::path const& file);

// Lines, without the line feed.
using Energies = std::map<std::string, double>;
[[nodiscard]] std::string begin_line(std::string const& run, std::string const& time, Begin const& begin);
[[nodiscard]] std::string writing_line(std::string const& run, std::string const& time, std::size_t step,
                                       profile::SettingName setting, std::optional<Energies> const& energies);
[[nodiscard]] std::string written_line(std::string const& run, std::string const& time, std::size_t step,
                                       profile::SettingName setting, std::optional<double> read_back,
                                       std::optional<Energies> const& energies,
                                       std::optional<OldTotals> totals);
[[nodiscard]] std::string not_written_line(std::string const& run, std::string const& time, std::size_t step,
                                           profile::SettingName setting, std::string const& why,
                                           bool touched);
[[nodiscard]] std::string end_line(std::string const& run, std::string const& time, bool whole);

// All runs in order. A whole line that cannot be understood is a fault: nothing is guessed about a meter.
[[nodiscard]] std::expected<std::vector<Run>, quantity::Fault> runs_of(std::string_view text,
                                                                       std::string const& where);
// The point's last run, when it was cut off or left a step in doubt and was not settled since; null when
// there is none.
[[nodiscard]] Run const* open_run(std::vector<Run> const& runs, std::string_view point);
// What an undo takes back: the open run, else the point's last one that wrote anything and was not taken
// back.
[[nodiscard]] Run const* run_to_undo(std::vector<Run> const& runs, std::string_view point);

[[nodiscard]] std::vector<Step> steps_to_finish(Run const& run);
// With the steps of the runs that it finished.
[[nodiscard]] std::vector<Step> steps_to_undo(std::vector<Run> const& runs, Run const& run);

[[nodiscard]] std::optional<plan::SerialFormat> format_of(std::string_view words);  // "19200 8E1"

}  // namespace phasewright::program
