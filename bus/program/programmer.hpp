// Writes settings to one meter: each is written, read back and put on record before the next one is begun.
// What was found is in the journal before the first write. docs/reference/settings-journal.md says how a
// cut-off run is taken up again.
//
// An address is written only where exactly one device answers: several clean and equal answers from the old
// address, no answer at all from the new one. Two devices that answer with the very same bits at the very
// same time look like one; a serial number in the answers tells them apart.
#pragma once
#include <expected>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "bus/program/connection.hpp"
#include "bus/program/difference.hpp"
#include "bus/program/journal.hpp"
#include "bus/program/meter_state.hpp"

namespace phasewright::program {

struct Job {
    std::string run;    // name, unique in the journal
    std::string point;  // id
    std::string place;  // for people
    std::string profile_name;
    std::string planned_serial;  // empty: not known
    profile::Profile const* profile = nullptr;
    std::uint8_t unit = 1;  // where it answers now
    std::optional<int> planned_offset_min;
    UnixClock unix_now;
    std::function<void(double)> wait;  // seconds; empty: no waits
};

enum class Outcome { written, not_written, in_doubt };
struct StepResult {
    profile::SettingName setting = profile::SettingName::ct_primary;
    std::optional<double> from, to, read_back;
    Outcome outcome = Outcome::not_written;
    std::string says;  // one sentence without a full stop; empty when there is nothing to add
    std::optional<OldTotals> old_totals;
    std::vector<std::string> totals_words;  // "import: 1 234.5 kWh before, 2 469.0 kWh after"
};

struct MeterResult {
    std::string point;
    std::string meter;
    std::uint8_t unit = 1;                     // where it answers at the end
    std::optional<plan::SerialFormat> format;  // at which
    std::vector<Row> rows;                     // before; empty for a finish and an undo
    std::vector<StepResult> steps;
    std::vector<std::string> notes;
    std::optional<std::string> failed;  // why nothing, or nothing more, was done
    bool whole = false;                 // every step was written and read back
};

// Reads and compares; writes nothing.
[[nodiscard]] MeterResult compare_meter(Connection& connection, Job const& job, Wanted const& wanted);

// Writes what differs. `wanted` is compared anew here: what a person saw may be old.
[[nodiscard]] MeterResult program_meter(Connection& connection, Job const& job, Wanted const& wanted,
                                        Journal& journal);

// Takes a run up again or back. The meter is looked for at every address and format that the run may have
// left it at.
[[nodiscard]] MeterResult finish_run(Connection& connection, Job const& job, std::vector<Run> const& runs,
                                     Run const& run, Journal& journal);
[[nodiscard]] MeterResult undo_run(Connection& connection, Job const& job, std::vector<Run> const& runs,
                                   Run const& run, Journal& journal);

}  // namespace phasewright::program
