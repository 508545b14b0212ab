#include "app/commands/plan_lines.hpp"

#include <algorithm>

#include "bus/port/tcp_line.hpp"

namespace phasewright::commands {

PlanLines::PlanLines(plan::Site const& site, port::ExchangeListener listener)
    : site_(site), listener_(std::move(listener)) {}

port::RtuSettings rtu_settings_of(plan::SerialLine const& line) {
    port::RtuSettings settings;
    settings.format = line.format;
    settings.answer_timeout_ms = line.answer_timeout_ms;
    return settings;
}

port::Line& PlanLines::to(plan::BusAddress const& address) {
    bool const serial = !address.serial_line.empty();
    auto& line = open_[{serial ? address.serial_line : address.host, serial ? -1 : address.port}];
    if (line) return *line;
    auto const planned = std::ranges::find(site_.serial_lines, address.serial_line, &plan::SerialLine::id);
    if (serial && planned != site_.serial_lines.end()) {
        auto settings = rtu_settings_of(*planned);
        settings.listener = listener_;
        line = port::rtu_line(port::serial_channel(planned->device, planned->format), std::move(settings));
    } else {
        line = port::tcp_line({.host = address.host, .port = static_cast<std::uint16_t>(address.port)});
    }
    return *line;
}

void PlanLines::cancel() noexcept {
    for (auto const& [place, line] : open_)
        if (line) line->cancel();
}

}  // namespace phasewright::commands
