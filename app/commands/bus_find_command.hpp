// phasewright bus find: which devices answer on the lines and hosts that were named, and how that compares with a plan
// (docs/reference/bus-find.md). It listens before it asks, only reads, and never asks what was not named.
#pragma once
#include <expected>
#include <filesystem>
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

#include "bus/finder/found.hpp"
#include "bus/finder/host_search.hpp"
#include "core/plan/site.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

struct BusFindOptions {
    std::vector<std::string> serial;    // "/dev/ttyUSB0"
    std::vector<std::string> gateways;  // "192.0.2.7:502"
    std::vector<std::string> hosts;     // "192.0.2.10-20,meter-3"
    std::optional<std::filesystem::path> plan_file;
    std::optional<std::filesystem::path> ports_file;  // the ports that the plan left open
    std::vector<std::string> lines;     // ids: only these of the plan
    std::string units = "1-247";
    std::string format;                 // "19200-8E1": only this one
    bool all_formats = false;
    double listen_s = 10.0;             // less counts as 10
    int wait_ms = 150;                  // for the first byte of a probe's answer on a serial line
    int gateway_wait_ms = 3000;
    bool json = false;
    std::size_t width = 80;
};

// One line, gateway or list of hosts to search.
struct FindTarget {
    enum class Kind { serial, gateway, hosts };
    Kind kind = Kind::serial;
    std::string line;    // its id in the plan, where it is of one
    std::string device;  // of a serial line
    std::optional<plan::SerialFormat> format;  // the planned one, asked first
    std::vector<finder::HostPlace> places;     // one for a gateway
    std::vector<plan::MeteringPoint> planned;  // the points that should answer here
};
[[nodiscard]] std::expected<std::vector<FindTarget>, quantity::Fault> find_targets(BusFindOptions const& options);

// 0: all of it was searched, whatever was found. 2: something could not be, or was not to the end.
[[nodiscard]] int bus_find_command(BusFindOptions const& options, std::ostream& out, std::ostream& err);

}  // namespace phasewright::commands
