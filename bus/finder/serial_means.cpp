#include "bus/finder/serial_search.hpp"

namespace phasewright::finder {

SerialMeans real_means() {
    return {.listen = [](port::Channel& channel, double seconds) { return port::listen(channel, seconds); },
            .line = [](std::unique_ptr<port::Channel> channel, port::RtuSettings settings) {
                return port::rtu_line(std::move(channel), std::move(settings));
            }};
}

}  // namespace phasewright::finder
