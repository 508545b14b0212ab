// An energy register only rises. It falls when it has run over its end (it wraps: W counts later it stands at
// zero again), when somebody has reset it, when it counts net energy, and else never: then the register, or
// what was read, is not to be trusted.
//   wrapped  gained = now + W - before, if that is no more than the breaker can have carried since
//   reset    gained = now, under the same condition
// How much can have been carried is breaker * voltage * elements * time, with a margin; where that is not
// known, a wrap is believed from the last tenth of the range into the first, and a reset below a hundredth of
// what stood there. These two shares are this project's choice.
#pragma once
#include <optional>
#include <string>

#include "bus/poller/event.hpp"

namespace phasewright::poller {

struct CounterStep {
    std::optional<double> gained;  // energy since the reading before; empty when it cannot be told
    std::optional<NoteKind> note;
    std::string says;  // with the note, one sentence
};

// `most`: what can have been counted since the reading before; empty when nothing limits it.
[[nodiscard]] CounterStep judged_step(double before, double now, CounterHabit const& habit,
                                      std::optional<double> most);

}  // namespace phasewright::poller
