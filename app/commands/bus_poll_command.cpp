#include "app/commands/bus_poll_command.hpp"

#include <algorithm>
#include <chrono>
#include <csignal>
#include <map>
#include <ostream>

#include <fmt/format.h>

#include "app/commands/bus_round_command.hpp"
#include "app/commands/plan_file.hpp"
#include "app/commands/plan_lines.hpp"
#include "app/commands/plan_ports.hpp"
#include "app/commands/profile_shelf.hpp"
#include "app/commands/profiles_folder.hpp"
#include "app/commands/terminal_lines.hpp"
#include "app/commands/whole_file.hpp"
#include "bus/poller/event_queue.hpp"
#include "bus/poller/meter_reader.hpp"
#include "bus/port/tcp_line.hpp"
#include "core/plan/poll_round.hpp"

namespace phasewright::commands {

namespace {

using quantity::Fault;

constexpr std::size_t queue_length = 10000;

poller::LineOpener tcp_opener(plan::BusAddress const& address) {
    port::TcpSettings settings{.host = address.host, .port = static_cast<std::uint16_t>(address.port)};
    return
        [settings](std::function<bool()> const&) -> std::expected<std::unique_ptr<port::Line>, codec::Fault> {
            return port::tcp_line(settings);
        };
}

// Listens first, each time the line is opened: while it was away, somebody else may have taken it over.
poller::LineOpener serial_opener(plan::SerialLine const& line, double listen_s, finder::Stop& stop) {
    return [line, listen_s,
            &stop](std::function<bool()> const&) -> std::expected<std::unique_ptr<port::Line>, codec::Fault> {
        auto channel = port::serial_channel(line.device, line.format);
        finder::Stop::Hold const hold(stop, [&] { channel->cancel(); });
        if (auto const opened = channel->open(); !opened) return std::unexpected(opened.error());
        auto const heard = finder::listen_first(*channel, listen_s, finder::real_means(), stop);
        if (heard.fault) return std::unexpected(*heard.fault);
        return port::rtu_line(std::move(channel), rtu_settings_of(line));
    };
}

std::expected<poller::MeterRead, Fault> reader_of(plan::Site const& site, plan::MeteringPoint const& point,
                                                  ProfileShelf& shelf) {
    auto const unit = static_cast<std::uint8_t>(point.address.unit);
    if (point.meter_profile == "sunspec") return poller::read_by_sunspec(unit, point.service);
    auto const profile = shelf.take(point.meter_profile);
    if (!profile) return std::unexpected(profile.error());
    auto const line = std::ranges::find(site.serial_lines, point.address.serial_line, &plan::SerialLine::id);
    auto const cost =
        line == site.serial_lines.end() ? plan::fewest_questions : plan::cost_on(line->format, 0.0);
    return poller::read_by_profile(*profile, unit, point.service, cost);
}

plan::Nominal nominal_of(plan::Site const& site, plan::MeteringPoint const& point) {
    auto const panel = std::ranges::find(site.panels, point.panel, &plan::Panel::id);
    return panel == site.panels.end() ? plan::Nominal{} : panel->nominal;
}

// What is known of a device that has not started, and of the ports that the plan leaves open.
std::optional<Fault> still_open(plan::Site const& site, std::string const& file) {
    auto const point = std::ranges::find_if(site.points, [](auto const& one) {
        return one.address.serial_line.empty() && one.address.port == 0;
    });
    if (point != site.points.end())
        return Fault{"the port of this point's meter is not known", file + " " + point->id, "0", "1 to 65535",
                     "write its port into the plan, or name the file of phasewright twin --ports"};
    auto const line = std::ranges::find_if(site.serial_lines, [&](auto const& one) {
        auto const on_it = [&](auto const& any) { return any.address.serial_line == one.id; };
        return one.device.empty() && std::ranges::any_of(site.points, on_it);
    });
    if (line == site.serial_lines.end()) return std::nullopt;
    return Fault{"the port of this serial line is not known",
                 file + " " + line->id,
                 {},
                 "/dev/ttyUSB0",
                 "write its device into the plan, or name the file of phasewright twin --ports"};
}

int refuse(Fault const& fault, std::ostream& err) {
    err << printable(quantity::to_sentence(fault)) << '\n';
    return 2;
}

// Counts what went by, and says it at the end.
class Tally {
public:
    void count(poller::Event const& event) {
        if (auto const* const reading = std::get_if<poller::Reading>(&event)) {
            ++readings_;
            ++points_[reading->point];
        } else {
            ++notes_[std::get<poller::Note>(event).kind];
        }
    }
    [[nodiscard]] std::string words(std::size_t meters) const {
        std::string text =
            fmt::format("{} reading{} of {} of {} meter{}", readings_, readings_ == 1 ? "" : "s",
                        points_.size(), meters, meters == 1 ? "" : "s");
        if (notes_.empty()) return text + ", nothing odd";
        text += ";";
        for (auto const& [kind, count] : notes_) text += fmt::format(" {} {}", poller::name_of(kind), count);
        return text;
    }

private:
    int readings_ = 0;
    std::map<std::string, int> points_;
    std::map<poller::NoteKind, int> notes_;
};

}  // namespace

std::expected<std::vector<poller::PolledLine>, Fault> polled_lines(plan::Site const& site,
                                                                   BusPollOptions const& options,
                                                                   finder::Stop& stop) {
    ProfileShelf shelf(profiles_folder(options.profiles_folder));
    std::vector<poller::PolledLine> lines;
    for (auto const& point : site.points) {
        auto const& address = point.address;
        bool const serial = !address.serial_line.empty();
        auto const id = line_id_of(site, point);
        auto known = std::ranges::find(lines, id, &poller::PolledLine::id);
        if (known == lines.end()) {
            auto const planned =
                std::ranges::find(site.serial_lines, address.serial_line, &plan::SerialLine::id);
            lines.push_back(
                {id, serial ? serial_opener(*planned, options.listen_s, stop) : tcp_opener(address), {}});
            known = std::prev(lines.end());
        }
        auto read = reader_of(site, point, shelf);
        if (!read) return std::unexpected(read.error());
        known->meters.push_back(
            {point.id, std::move(*read), poller::expected_of(point, nominal_of(site, point))});
    }
    return lines;
}

int bus_poll_command(BusPollOptions const& options, std::function<bool()> const& over, std::ostream& out,
                     std::ostream& err) {
    auto const site = planned_site(options.plan_file, options.ports_file);
    if (!site) return refuse(site.error(), err);
    if (auto const open = still_open(*site, options.plan_file.string())) return refuse(*open, err);
    finder::Stop stop;
    auto lines = polled_lines(*site, options, stop);
    if (!lines) return refuse(lines.error(), err);
    if (std::ranges::any_of(site->points,
                            [](auto const& point) { return !point.address.serial_line.empty(); }))
        err << fmt::format("listening for {:g} s on each serial line before the first question\n",
                           options.listen_s);

    poller::EventQueue queue(queue_length);
    Tally tally;
    auto const tell = [&](poller::Event const& event) {
        tally.count(event);
        out << (options.json ? json_of(event) : words_of(event)) << '\n' << std::flush;
    };
    poller::Poller poller(std::move(*lines), {.schedule = {.interval_s = options.interval_s}, .sanity = {}},
                          [&](poller::Event const& event) { queue.push(event); });
    auto const begun = std::chrono::steady_clock::now();
    poller.start();
    auto const time_is_up = [&] {
        return options.for_s > 0.0 &&
               std::chrono::steady_clock::now() - begun >= std::chrono::duration<double>(options.for_s);
    };
    while (!over() && !time_is_up())
        if (auto const event = queue.pop(0.1)) tell(*event);
    stop.request();
    poller.stop();
    queue.close();
    while (auto const event = queue.pop(0.0)) tell(*event);
    (options.json ? err : out) << tally.words(site->points.size()) << '\n';
    return 0;
}

int run_bus_poll(BusPollOptions const& options, std::ostream& out, std::ostream& err) {
    // Held back in every thread and asked for, so that no handler runs; pthread_sigmask before the threads
    // start.
    sigset_t ending{};
    sigset_t before{};
    sigemptyset(&ending);
    sigaddset(&ending, SIGTERM);
    sigaddset(&ending, SIGINT);
    pthread_sigmask(SIG_BLOCK, &ending, &before);
    auto const signal_has_come = [&] {
        timespec const at_once{};
        return sigtimedwait(&ending, nullptr, &at_once) > 0;
    };
    int const status = bus_poll_command(options, signal_has_come, out, err);
    pthread_sigmask(SIG_SETMASK, &before, nullptr);
    return status;
}

}  // namespace phasewright::commands
