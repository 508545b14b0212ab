// The verdict on a serial line: what is suspected, with its probability, the evidence in words, and the check that would
// tell most for its minutes. Several faults may be present at once, so their probabilities need not sum to one.
#pragma once
#include <string>
#include <vector>

#include "bus/linefault/evidence.hpp"
#include "bus/linefault/line_fault.hpp"

namespace phasewright::linefault {

struct Suspicion {
    NamedFault fault;
    double probability = 0.0;
    std::string words;
};

struct CheckOutcome {
    std::string if_seen;
    double probability = 0.0;
    std::string then;  // what would be most probable after it
};
struct NextCheck {
    std::string kind;  // "idle_volts"
    std::string what;  // what to do and where
    double minutes = 1.0;
    double bits = 0.0;  // expected information
    std::vector<std::string> cautions;
    std::vector<CheckOutcome> outcomes;
};

enum class State {
    nothing_seen,  // nothing wrong was seen; what bytes cannot see is still open
    found,         // one fault, or several, at 0.9 and more
    likely,        // the first is above one half
    cannot_tell,
};
[[nodiscard]] std::string_view name_of(State state);

struct Verdict {
    State state = State::cannot_tell;
    std::string sentence;
    std::vector<Suspicion> suspicions;  // most probable first, those of 1 % and more
    double healthy = 0.0;               // nothing wrong at all
    double electrical = 0.0;            // terminators, polarization, common or a disturbance, whichever
    std::vector<std::string> evidence;  // one sentence each
    std::vector<NextCheck> next;        // best first; empty when nothing would tell more
    std::vector<Device> devices;        // in the order that `fault.device` counts
};

[[nodiscard]] Verdict judge(Evidence evidence, Priors const& priors = {});

// "the pair is crossed between the 8th device (unit 8, Tenant 4) and the 9th (unit 9, Tenant 5)"
[[nodiscard]] std::string words_of(NamedFault const& fault, std::vector<Device> const& devices, bool ordered);

}  // namespace phasewright::linefault
