#include "app/commands/decode_reading.hpp"

#include <charconv>
#include <chrono>
#include <cmath>
#include <memory>
#include <ostream>
#include <thread>

#include <fmt/format.h>

#include "bus/decoder/live_dump.hpp"
#include "bus/finder/serial_search.hpp"
#include "bus/port/rtu_line.hpp"
#include "bus/port/tcp_line.hpp"

namespace phasewright::commands {

using quantity::Fault;

namespace {

std::expected<std::unique_ptr<port::Line>, Fault> serial_line(DecodeOptions const& options) {
    auto const parity = plan::parity_of(options.parity);
    if (!parity)
        return std::unexpected(Fault{"this is no parity", "--parity", options.parity, "even, odd or none", {}});
    plan::SerialFormat const format{options.speed, *parity, *parity == plan::Parity::none ? 2 : 1};
    auto channel = port::serial_channel(options.read_from, format);
    finder::Stop const stop;
    auto const listening = finder::listen_first(*channel, finder::least_listening_s, finder::real_means(), stop);
    if (listening.fault)
        return std::unexpected(Fault{codec::to_finding(*listening.fault), options.read_from, {},
                                     "a line that nobody else asks on", "nothing was sent"});
    return port::rtu_line(std::move(channel), {.format = format, .answer_timeout_ms = options.answer_timeout_ms});
}

std::expected<std::unique_ptr<port::Line>, Fault> line_to(DecodeOptions const& options) {
    if (options.read_from.starts_with('/')) return serial_line(options);
    port::TcpSettings settings{.host = options.read_from, .answer_timeout_ms = options.answer_timeout_ms};
    if (auto const colon = options.read_from.rfind(':'); colon != std::string::npos) {
        settings.host = options.read_from.substr(0, colon);
        auto const* const end = options.read_from.data() + options.read_from.size();
        auto const parsed = std::from_chars(options.read_from.data() + colon + 1, end, settings.port);
        if (parsed.ec != std::errc{} || parsed.ptr != end || settings.port == 0 || settings.host.empty())
            return std::unexpected(Fault{"this is no host and port", "--read", options.read_from,
                                         "HOST, HOST:PORT, or a device such as /dev/ttyUSB0", {}});
    }
    return port::tcp_line(std::move(settings));
}

std::optional<Fault> limits(DecodeOptions const& options) {
    auto const wrong = [](std::string where, int found, std::string allowed) {
        return Fault{"this cannot be read", std::move(where), std::to_string(found), std::move(allowed), {}};
    };
    if (options.count < 1 || options.count > 65536) return wrong("--count", options.count, "1 to 65536 registers");
    if (options.from < 0 || options.from > 65535) return wrong("--from", options.from, "0 to 65535, as on the wire");
    if (options.unit < 0 || options.unit > 255) return wrong("--unit", options.unit, "1 to 247; over TCP also 0 and 255");
    if (options.function != 3 && options.function != 4) return wrong("--function", options.function, "3 or 4");
    if (options.times < 1 || options.times > 64) return wrong("--times", options.times, "1 to 64");
    if (options.read_from.starts_with('/') && (options.unit < 1 || options.unit > 247))
        return wrong("--unit", options.unit, "1 to 247: 0 speaks to all devices at once and none answers");
    if (!std::isfinite(options.every_s) || options.every_s < 0.0 || options.every_s > 86400.0)
        return Fault{"this cannot be read", "--every", fmt::format("{}", options.every_s), "0 to 86400 seconds", {}};
    return std::nullopt;
}

}  // namespace

std::expected<std::vector<decoder::Dump>, Fault> read_dumps_live(DecodeOptions const& options, std::ostream& err) {
    if (auto fault = limits(options)) return std::unexpected(std::move(*fault));
    auto line = line_to(options);
    if (!line) return std::unexpected(line.error());
    decoder::RunAsked const asked{.function = static_cast<codec::Function>(options.function),
                                  .from = static_cast<std::uint16_t>(options.from),
                                  .count = static_cast<unsigned>(options.count),
                                  .longest = static_cast<unsigned>(options.longest)};
    std::vector<decoder::Dump> dumps;
    auto const begin = std::chrono::steady_clock::now();
    for (int round = 0; round < options.times; ++round) {
        auto const due = begin + std::chrono::duration_cast<std::chrono::steady_clock::duration>(
                                     std::chrono::duration<double>(options.every_s * round));
        std::this_thread::sleep_until(due);
        double const started = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
        auto read = decoder::read_run(**line, static_cast<std::uint8_t>(options.unit), asked);
        double const ended = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
        if (read.refused > 0 && round == 0)
            err << fmt::format("{} of {} registers were refused or passed over\n", read.refused, options.count);
        bool const nothing = read.image.holding.empty() && read.image.input.empty();
        if (read.stopped && (nothing || dumps.empty()))
            err << "reading ended early: " << codec::to_finding(*read.stopped) << '\n';
        if (!nothing) dumps.push_back({std::move(read.image), std::round(500.0 * (started + ended)) / 1000.0});
        if (read.stopped) break;
    }
    if (dumps.empty())
        return std::unexpected(Fault{"no register was read", options.read_from, {}, "a meter that answers",
                                     "see docs/reference/bus.md; try the other --function, another --from"});
    return dumps;
}

}  // namespace phasewright::commands
