#include "bus/twin/manners.hpp"

namespace phasewright::twin {

Turn turn_of(BusManners const& manners, int number) {
    auto const is_due = [number](int every) { return every > 0 && number % every == 0; };
    return {.late = is_due(manners.late_every),
            .wrong_crc = is_due(manners.wrong_crc_every),
            .truncated = is_due(manners.truncated_every),
            .busy = is_due(manners.busy_every)};
}

}  // namespace phasewright::twin
