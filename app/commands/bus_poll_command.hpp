// phasewright bus poll --plan FILE: reads every meter of a plan again and again, each on its own line, and
// says what was read and what was odd (docs/reference/poller.md). A serial line is listened to first and left
// alone when another master is heard on it. Nothing is ever written to a meter.
#pragma once
#include <expected>
#include <filesystem>
#include <functional>
#include <iosfwd>
#include <optional>
#include <vector>

#include "bus/finder/serial_search.hpp"
#include "bus/poller/poller.hpp"
#include "core/plan/site.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

struct BusPollOptions {
    std::filesystem::path plan_file;
    std::optional<std::filesystem::path> ports_file;       // what phasewright twin --ports wrote
    std::optional<std::filesystem::path> profiles_folder;  // default: the profiles that came with the program
    double interval_s = 5.0;
    double for_s = 0.0;  // 0: until it is interrupted
    double listen_s =
        finder::least_listening_s;  // on each serial line before the first question, and after it was lost
    bool json = false;              // one JSON object an event instead of lines for people
};

// The lines of a plan as the poller takes them. `stop` ends the listening; it must outlive the lines.
[[nodiscard]] std::expected<std::vector<poller::PolledLine>, quantity::Fault> polled_lines(
    plan::Site const& site, BusPollOptions const& options, finder::Stop& stop);

// One event as a line, without its end.
[[nodiscard]] std::string words_of(poller::Event const& event);
[[nodiscard]] std::string json_of(poller::Event const& event);

// `over` is asked several times a second and ends the polling. 0: it was polled, whatever came. 2: it could
// not be.
[[nodiscard]] int bus_poll_command(BusPollOptions const& options, std::function<bool()> const& over,
                                   std::ostream& out, std::ostream& err);
// The same until SIGINT or SIGTERM.
[[nodiscard]] int run_bus_poll(BusPollOptions const& options, std::ostream& out, std::ostream& err);

}  // namespace phasewright::commands
