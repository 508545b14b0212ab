// What a poller tells whoever listens: readings, and notes about what was odd. A note has a kind, so that a
// program can count it, and a sentence, so that a person can act on it. docs/reference/poller.md lists the
// kinds.
#pragma once
#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "core/readings/reading_set.hpp"

namespace phasewright::poller {

enum class NoteKind {
    // About one reading.
    out_of_range,       // A number that no supply and no load of this plan can give.
    over_current,       // Far more current than the breaker carries.
    voltage_step,       // A voltage that changed suddenly.
    stale,              // Not one number has changed for long: the meter or a gateway repeats itself.
    changing_again,     // After stale: the numbers move.
    zero_glitch,        // One reading of zero between equals; that reading was dropped.
    counter_wrapped,    // An energy register ran over its end and began anew.
    counter_reset,      // An energy register began again at zero.
    counter_went_back,  // An energy register fell, and neither wrapped nor was reset.
    counter_jumped,     // An energy register rose by more than the breaker carries.
    // About a meter.
    meter_silent,   // It did not answer, or what came was no answer.
    meter_refuses,  // It understood and said no.
    meter_back,     // After one of these: it answers.
    // About a line.
    line_lost,       // The port or the connection is gone, or cannot be used.
    line_back,       // After line_lost: it carries answers again.
    round_too_long,  // The meters cannot be asked as often as wanted.
    // About the listener.
    events_dropped,  // It took events out more slowly than they came; the oldest are gone.
};
inline constexpr std::array all_note_kinds{
    NoteKind::out_of_range,    NoteKind::over_current,   NoteKind::voltage_step,
    NoteKind::stale,           NoteKind::changing_again, NoteKind::zero_glitch,
    NoteKind::counter_wrapped, NoteKind::counter_reset,  NoteKind::counter_went_back,
    NoteKind::counter_jumped,  NoteKind::meter_silent,   NoteKind::meter_refuses,
    NoteKind::meter_back,      NoteKind::line_lost,      NoteKind::line_back,
    NoteKind::round_too_long,  NoteKind::events_dropped};
[[nodiscard]] std::string_view name_of(NoteKind kind);  // "zero_glitch"

struct Note {
    NoteKind kind = NoteKind::out_of_range;
    std::string line;
    std::string point;  // empty when the note is about the line or the listener
    std::string time;   // UTC, ISO 8601 with milliseconds
    double at_s = 0.0;  // on the clock that only moves forward
    std::string says;   // one sentence without a full stop
};

// How an energy register behaves when nothing is wrong with it.
struct CounterHabit {
    std::optional<double> wrap;  // it counts from 0 to just below this and begins anew; in the counter's unit
    bool may_fall = false;       // it counts net energy, forwards and backwards
    double step = 0.0;           // the smallest change it can show
    friend bool operator==(CounterHabit const&, CounterHabit const&) = default;
};

struct Counter {
    std::string name;             // as the profile calls it; "TotWhImp" of a SunSpec meter
    std::optional<double> value;  // in `unit`
    CounterHabit habit;
    std::string unit = "Wh";  // or "varh", "VAh"
    int phase = 0;            // 1 to 3; 0: of all phases together
    friend bool operator==(Counter const&, Counter const&) = default;
};

// One meter, read once.
struct Reading {
    std::string line;
    std::string point;
    std::string time;     // UTC at the middle of the read, ISO 8601 with milliseconds
    double at_s = 0.0;    // the same moment on the clock that only moves forward
    double took_s = 0.0;  // from the first question about a measurement to the last answer
    readings::Snapshot snapshot;
    std::vector<Counter> counters;
};

using Event = std::variant<Reading, Note>;

// "2026-05-20T08:00:00.250Z" for seconds since 1970.
[[nodiscard]] std::string utc_text(double unix_s);

}  // namespace phasewright::poller
