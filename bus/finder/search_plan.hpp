// Which question comes next when nobody knows where the meters answer: a walk through (format, unit) pairs that asks
// the most usual first and stops early. No I/O and no clock: the caller puts the question, says what came and how long
// it took, and asks again.
//   time of a silent probe = 8 characters of question + the wait + t3.5
// A first round asks the planned units and 1 to 3 in every format. The format in which something answered is then
// asked for all its units, and the other formats are left out unless asked for: devices on one pair must share one
// format, or they could not hear each other (MODBUS over Serial Line V1.02, 2.5.1). Bytes that make no frame are a hint:
// a device may be there that speaks otherwise, so that unit is asked in every format still.
#pragma once
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "core/plan/serial_line.hpp"

namespace phasewright::finder {

// The usual formats, most usual first. 19200 8E1 is the default of the specification and 9600 must be offered (2.5.1);
// the rest of the order is common practice, no source.
[[nodiscard]] std::vector<plan::SerialFormat> usual_formats();

struct SearchSettings {
    std::vector<plan::SerialFormat> formats = usual_formats();  // one entry for a line that has no format, as TCP
    std::vector<std::uint8_t> planned;  // asked first, in this order
    std::uint8_t first = 1, last = 247;
    bool all_formats = false;   // go on through the formats after devices answered in one
    int quick_wait_ms = 150;    // until the first byte of an answer; characters come on top where a line has any
    int patient_wait_ms = 1000;  // second wait, for planned units that were silent and whatever was doubtful
    bool timed = true;          // false: no characters to count, the waits stand as they are
};

struct Probe {
    plan::SerialFormat format;
    std::uint8_t unit = 1;
    int wait_ms = 150;     // until the first byte of the answer
    bool patient = false;  // asked a second time, with the long wait
};

enum class Came {
    nothing,     // silence
    answer,      // a whole frame of this unit, a refusal included: a device is there
    garbage,     // bytes that make no frame
    other_unit,  // a whole frame of another unit: that one is there, and late
};
struct ProbeOutcome {
    Came came = Came::nothing;
    std::uint8_t answering = 0;  // which unit, for other_unit
    double took_s = 0.0;         // from before the question to after the wait
};

struct Hit {
    plan::SerialFormat format;
    std::uint8_t unit = 0;
    double took_s = 0.0;
};

class SearchPlan {
public:
    explicit SearchPlan(SearchSettings settings);

    [[nodiscard]] std::optional<Probe> next() const;  // nothing: the search is over
    void heard(ProbeOutcome const& outcome);          // about the probe that next() gives

    // Upper bound: as if nothing more were found. It shrinks at once when a format is left out.
    [[nodiscard]] double time_left_s() const;
    [[nodiscard]] std::size_t asked() const { return asked_; }
    [[nodiscard]] std::size_t left() const { return pending_.size(); }
    [[nodiscard]] std::span<Hit const> hits() const { return hits_; }
    [[nodiscard]] std::span<Hit const> doubtful() const { return doubtful_; }  // garbage each time

private:
    struct Pending {
        std::size_t format = 0;
        std::uint8_t unit = 1;
        bool patient = false;
        bool hint = false;  // asked because of what came elsewhere: stays when its format is left out
    };
    [[nodiscard]] double expected_s(Pending const& pending) const;
    [[nodiscard]] int wait_ms(Pending const& pending) const;
    [[nodiscard]] bool is_hit(std::size_t format, std::uint8_t unit) const;
    [[nodiscard]] bool heard_anywhere(std::uint8_t unit) const;
    void ask_first(Pending const& pending);
    void take_hit(std::size_t format, std::uint8_t unit, double took_s);
    void take_garbage(Pending const& done, double took_s);
    void leave_out_other_formats();
    void ask_again_for_missing();

    SearchSettings settings_;
    std::vector<Pending> pending_;  // the next one stands at the end
    std::vector<Hit> hits_, doubtful_;
    std::optional<std::size_t> settled_;  // the first format in which something answered
    bool asked_again_ = false;
    std::size_t asked_ = 0;
    struct Measured {
        double sum_s = 0.0;
        std::size_t count = 0;
    };
    std::vector<Measured> silent_;  // by format: how long silence really took over its computed time
};

// How long a first byte is waited for: the device's own time, and on a timed line the characters of the shortest
// answer, because a port's buffer may hold them back until the end (common practice, no source).
[[nodiscard]] int probe_wait_ms(plan::SerialFormat const& format, int device_ms);

}  // namespace phasewright::finder
