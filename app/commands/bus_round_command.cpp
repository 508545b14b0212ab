#include "app/commands/bus_round_command.hpp"

#include <algorithm>
#include <charconv>
#include <ostream>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "app/commands/plan_file.hpp"
#include "app/commands/profile_shelf.hpp"
#include "app/commands/profiles_folder.hpp"
#include "app/commands/terminal_lines.hpp"
#include "app/commands/whole_file.hpp"
#include "bus/poller/meter_reader.hpp"

namespace phasewright::commands {

namespace {

using nlohmann::ordered_json;
using quantity::Fault;

// The longest of the SunSpec meter models has 124 registers, the others 105; which one a meter has is known
// once it was asked. They are read in one question (docs/reference/bus.md).
constexpr plan::RegisterRun sunspec_block{3, 40072, 124};

std::expected<plan::PollDevice, Fault> device_of(plan::MeteringPoint const& point, ProfileShelf& shelf,
                                                 BusRoundOptions const& options) {
    plan::PollDevice device{.id = point.id, .unit = point.address.unit, .wanted = {}, .limits = {}};
    device.answer_delay_s = options.answer_delay_ms.value_or(0.0) / 1000.0;
    device.tries = options.tries;
    if (std::ranges::find(options.silent, point.id) != options.silent.end()) device.alive = 0.0;
    if (point.meter_profile == "sunspec") {
        device.wanted = {sunspec_block};
        return device;
    }
    auto const profile = shelf.take(point.meter_profile);
    if (!profile) return std::unexpected(profile.error());
    device.wanted = poller::polled_registers(**profile);
    device.limits = {.longest_read = static_cast<int>((*profile)->longest_read),
                     .bridge = static_cast<int>((*profile)->bridge)};
    return device;
}

LineToRead line_of(plan::Site const& site, plan::MeteringPoint const& point,
                   std::optional<plan::SerialFormat> behind) {
    auto const& address = point.address;
    LineToRead line{line_id_of(site, point), {}, std::nullopt, {}};
    line.name = line.id;
    auto const serial = std::ranges::find(site.serial_lines, address.serial_line, &plan::SerialLine::id);
    auto const gateway = std::ranges::find(site.gateways, address.gateway, &plan::Gateway::id);
    if (serial != site.serial_lines.end()) {
        line.name = serial->name;
        line.format = serial->format;
    } else if (gateway != site.gateways.end()) {
        line.name = gateway->name;
        line.format = behind;
    }
    return line;
}

double timeout_s(plan::Site const& site, plan::BusAddress const& address) {
    auto const line = std::ranges::find(site.serial_lines, address.serial_line, &plan::SerialLine::id);
    return line == site.serial_lines.end() ? 1.0 : line->answer_timeout_ms / 1000.0;
}

std::string_view plural(std::size_t count) { return count == 1 ? "" : "s"; }
std::string time_words(double seconds) {
    return seconds < 1.0 ? fmt::format("{:.1f} ms", 1000.0 * seconds) : fmt::format("{:.2f} s", seconds);
}

// --- for people ---

void say_untimed(LineToRead const& line, std::ostream& out) {
    std::size_t reads = 0;
    int registers = 0;
    for (auto const& device : line.devices) {
        auto const runs = plan::grouped(device.wanted, device.limits, plan::fewest_questions);
        reads += runs.size();
        registers += plan::registers_in(runs);
    }
    out << fmt::format("{}: {} meter{}, {} read{} of {} registers; over a network, which is not timed here\n",
                       printable(line.name), line.devices.size(), plural(line.devices.size()), reads,
                       plural(reads), registers);
}

void say_devices(plan::PollRound const& round, std::ostream& out) {
    std::size_t width = 8;
    for (auto const& device : round.devices) width = std::max(width, device.id.size());
    out << fmt::format("  {:<{}}  unit  reads  registers  read along       time   if silent\n", "meter",
                       width);
    for (auto const& device : round.devices) {
        out << fmt::format("  {:<{}}  {:>4}  {:>5}  {:>9}  {:>10}  {:>9}  {:>10}{}\n", device.id, width,
                           device.unit, device.reads.size(), device.wanted_registers,
                           device.fetched_registers - device.wanted_registers, time_words(device.answering_s),
                           time_words(device.silent_s), device.alive < 1.0 ? "  silent" : "");
    }
}

void say_speeds(std::vector<plan::SpeedFit> const& speeds, plan::SerialFormat const& own, std::ostream& out) {
    out << "  bit/s     a round    busy  least interval\n";
    for (auto const& fit : speeds) {
        out << fmt::format("  {:<6}  {:>9}  {:>5.0f} %  {:>12} s  {}{}\n", fit.format.bit_rate,
                           time_words(fit.round.expected_s), 100.0 * fit.busy_share, fit.least_interval_s,
                           fit.fits ? "fits" : "does not fit", fit.format == own ? "  (planned)" : "");
    }
}

void say_line(LineToRead const& line, BusRoundOptions const& options, std::ostream& out) {
    if (!line.format) return say_untimed(line, out);
    auto const round = plan::poll_round(*line.format, line.devices);
    auto const speeds = plan::speeds(*line.format, line.devices, options.interval_s);
    out << fmt::format("{}: {}, {} meter{}, {} read{}\n", printable(line.name), plan::words_of(*line.format),
                       line.devices.size(), plural(line.devices.size()), round.reads,
                       plural(static_cast<std::size_t>(round.reads)));
    say_devices(round, out);
    out << fmt::format(
        "  A round takes {}; characters are on the wire for {:.0f} % of a round that every meter answers.\n",
        time_words(round.expected_s),
        round.all_answer_s > 0.0 ? 100.0 * round.wire_s / round.all_answer_s : 0.0);
    auto words = plan::words_of(speeds, *line.format, options.interval_s);
    if (!words.empty()) words.front() = 'A';
    out << "  " << words << ".\n";
    say_speeds(speeds, *line.format, out);
}

// --- for programs ---

ordered_json json_of(std::vector<plan::TimedRead> const& reads) {
    auto list = ordered_json::array();
    for (auto const& read : reads)
        list.push_back({{"function", read.run.function},
                        {"address", read.run.first},
                        {"count", read.run.count},
                        {"s", read.total_s()}});
    return list;
}

ordered_json json_of(LineToRead const& line, BusRoundOptions const& options) {
    ordered_json object{{"line", line.id}, {"name", line.name}};
    auto meters = ordered_json::array();
    if (!line.format) {
        object["format"] = nullptr;
        for (auto const& device : line.devices) {
            auto reads = ordered_json::array();
            for (auto const& run : plan::grouped(device.wanted, device.limits, plan::fewest_questions))
                reads.push_back({{"function", run.function}, {"address", run.first}, {"count", run.count}});
            meters.push_back({{"point", device.id}, {"unit", device.unit}, {"reads", reads}});
        }
        object["meters"] = meters;
        return object;
    }
    auto const round = plan::poll_round(*line.format, line.devices);
    object["format"] = plan::words_of(*line.format);
    object["interval_s"] = options.interval_s;
    object["round_s"] = round.expected_s;
    object["all_answer_s"] = round.all_answer_s;
    object["longest_s"] = round.longest_s;
    object["wire_s"] = round.wire_s;
    for (auto const& device : round.devices)
        meters.push_back({{"point", device.id},
                          {"unit", device.unit},
                          {"registers", device.wanted_registers},
                          {"fetched", device.fetched_registers},
                          {"answering_s", device.answering_s},
                          {"silent_s", device.silent_s},
                          {"silent", device.alive < 1.0},
                          {"reads", json_of(device.reads)}});
    object["meters"] = meters;
    auto speeds = ordered_json::array();
    for (auto const& fit : plan::speeds(*line.format, line.devices, options.interval_s))
        speeds.push_back({{"bit_rate", fit.format.bit_rate},
                          {"round_s", fit.round.expected_s},
                          {"busy", fit.busy_share},
                          {"fits", fit.fits},
                          {"least_interval_s", fit.least_interval_s}});
    object["speeds"] = speeds;
    return object;
}

int refuse(Fault const& fault, std::ostream& err) {
    err << printable(quantity::to_sentence(fault)) << '\n';
    return 2;
}

}  // namespace

std::string line_id_of(plan::Site const& site, plan::MeteringPoint const& point) {
    auto const& address = point.address;
    if (!address.serial_line.empty()) return address.serial_line;
    // Ids are unique among gateways and among serial lines, not among both.
    bool const clashes = std::ranges::find(site.serial_lines, address.gateway, &plan::SerialLine::id) !=
                         site.serial_lines.end();
    if (!address.gateway.empty()) return clashes ? "gateway " + address.gateway : address.gateway;
    return address.port == 0 ? point.id : fmt::format("{}:{}", address.host, address.port);
}

std::optional<plan::SerialFormat> serial_format_of(std::string_view text) {
    plan::SerialFormat format;
    auto const [rest, wrong] = std::from_chars(text.data(), text.data() + text.size(), format.bit_rate);
    std::string_view const frame(rest, static_cast<std::size_t>(text.data() + text.size() - rest));
    if (wrong != std::errc{} || format.bit_rate < 300 || format.bit_rate > 1'000'000) return std::nullopt;
    if (frame.size() != 4 || (frame[0] != ' ' && frame[0] != '-') || frame[1] != '8') return std::nullopt;
    if (frame[3] != '1' && frame[3] != '2') return std::nullopt;
    format.stop_bits = frame[3] - '0';
    switch (frame[2]) {
        case 'E': format.parity = plan::Parity::even; return format;
        case 'O': format.parity = plan::Parity::odd; return format;
        case 'N': format.parity = plan::Parity::none; return format;
        default: return std::nullopt;
    }
}

std::expected<std::vector<LineToRead>, Fault> lines_to_read(plan::Site const& site,
                                                            BusRoundOptions const& options) {
    std::optional<plan::SerialFormat> behind;
    if (!options.behind_gateways.empty()) {
        behind = serial_format_of(options.behind_gateways);
        if (!behind)
            return std::unexpected(Fault{"the serial format is not known", "--behind-gateways",
                                         options.behind_gateways, "bit rate, 8, E, O or N, stop bits",
                                         "19200-8E1"});
    }
    for (auto const& id : options.silent)
        if (std::ranges::find(site.points, id, &plan::MeteringPoint::id) == site.points.end())
            return std::unexpected(
                Fault{"the plan has no such point", "--silent", id, "the id of a point", ""});
    ProfileShelf shelf(profiles_folder(options.profiles_folder));
    std::vector<LineToRead> lines;
    for (auto const& point : site.points) {
        auto device = device_of(point, shelf, options);
        if (!device) return std::unexpected(device.error());
        device->answer_timeout_s = timeout_s(site, point.address);
        auto line = line_of(site, point, behind);
        auto const known = std::ranges::find(lines, line.id, &LineToRead::id);
        auto& to = known == lines.end() ? lines.emplace_back(std::move(line)) : *known;
        to.devices.push_back(std::move(*device));
    }
    return lines;
}

int bus_round_command(BusRoundOptions const& options, std::ostream& out, std::ostream& err) {
    auto const text = text_of(options.plan_file, "the plan");
    if (!text) return refuse(text.error(), err);
    auto const site = read_plan(*text, options.plan_file.string());
    if (!site) return refuse(site.error(), err);
    auto const lines = lines_to_read(*site, options);
    if (!lines) return refuse(lines.error(), err);
    for (auto const& line : *lines) {
        if (options.json)
            out << json_of(line, options).dump() << '\n';
        else
            say_line(line, options, out);
    }
    return 0;
}

}  // namespace phasewright::commands
