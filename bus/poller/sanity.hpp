// Is a reading one that this point can give? Each rule looks at one reading and the one before it; none of
// them judges the wiring. A voltage to 1.5 times nominal may stand there (a lead on the wrong phase
// shows 1.73 times and is told), a frequency within a tenth, a power factor within one. A zero where a moment
// ago there was something is not believed at once: that reading is held back until the next one tells. Equal
// to before: the zero was a glitch of the meter or its gateway, and is dropped. Else both are passed on. All
// limits are this project's choice, common practice, no source; docs/reference/poller.md lists them.
#pragma once
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "bus/poller/event.hpp"
#include "core/plan/site.hpp"

namespace phasewright::poller {

struct Expected {           // of one point, as far as it is planned
    std::vector<double> v;  // nominal, one an element; empty when not known
    std::optional<double> v_ll;
    std::optional<double> hz;
    std::optional<double> breaker_a;
};
[[nodiscard]] Expected expected_of(plan::MeteringPoint const& point, plan::Nominal const& nominal);

struct SanityLimits {
    double v_most = 1.5;  // times nominal
    double hz_off = 0.1;  // share of nominal
    double pf_most = 1.01;
    double current_most = 1.5;   // times the breaker's rating
    double v_step = 0.2;         // share of nominal, from one reading to the next
    double equal_within = 0.05;  // two readings on both sides of a zero count as equal
    double energy_margin = 2.0;  // times breaker * nominal voltage * elements * time
    double stale_after_s = 300.0;
    int stale_readings = 10;  // both must be exceeded
};

// One meter's readings in their order. It holds back one reading at most.
class Sanity {
public:
    explicit Sanity(Expected expected, SanityLimits limits = {})
        : expected_(std::move(expected)), limits_(limits) {}

    // What may be passed on now: readings that were held back, notes, and the reading itself.
    [[nodiscard]] std::vector<Event> judge(Reading reading);
    [[nodiscard]] std::vector<Event> flush();  // no more readings will come: what is held back passes

private:
    void pass(Reading reading, std::vector<Event>& out);
    void settle_held(Reading const& next, std::vector<Event>& out);
    [[nodiscard]] bool doubtful_zero(Reading const& reading) const;
    void check_ranges(Reading const& reading, std::vector<Event>& out);
    void check_steps(Reading const& reading, std::vector<Event>& out) const;
    void check_counters(Reading const& reading, std::vector<Event>& out) const;
    void check_stale(Reading const& reading, std::vector<Event>& out);
    void tell_once(NoteKind kind, std::string const& quantity, bool wrong, Reading const& reading,
                   std::string const& says, std::vector<Event>& out);
    [[nodiscard]] std::optional<double> most_energy(double seconds) const;

    Expected expected_;
    SanityLimits limits_;
    std::optional<Reading> before_;
    std::optional<Reading> held_;
    std::set<std::pair<NoteKind, std::string>> told_;  // and not good again since
    double same_since_s_ = 0.0;
    int same_readings_ = 0;
    bool stale_ = false;
};

[[nodiscard]] bool same_numbers(Reading const& one, Reading const& other);  // whatever their times

}  // namespace phasewright::poller
