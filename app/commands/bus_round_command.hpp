// phasewright bus round --plan FILE: how long each serial line of a plan needs to read all its meters once,
// which speeds and intervals fit, and what a silent meter costs. Nothing is asked on any line
// (docs/reference/poll-round.md).
#pragma once
#include <expected>
#include <filesystem>
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

#include "core/plan/poll_round.hpp"
#include "core/plan/site.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

struct BusRoundOptions {
    std::filesystem::path plan_file;
    std::optional<std::filesystem::path> profiles_folder;  // default: the profiles that came with the program
    double interval_s = 5.0;
    std::vector<std::string> silent;  // ids of points that do not answer
    std::optional<double>
        answer_delay_ms;  // of every meter; default: the least that the specification allows
    int tries = 2;
    std::string behind_gateways;  // "19200 8E1": every gateway of the plan has such a line; empty: not timed
    bool json = false;            // one JSON object a line instead of lines for people
};

// The meters of one line, with what is wanted of each.
struct LineToRead {
    std::string id;  // of the serial line or the gateway; "192.0.2.7:502" for a meter with a host of its own
    std::string name;
    std::optional<plan::SerialFormat> format;  // empty: a network, which the specification does not time
    std::vector<plan::PollDevice> devices;
};
[[nodiscard]] std::expected<std::vector<LineToRead>, quantity::Fault> lines_to_read(
    plan::Site const& site, BusRoundOptions const& options);

// The line that a point's meter is on, the same for all meters on it: the id of its serial line or gateway,
// or "192.0.2.7:502". A host whose port is chosen later is a line by its point's id.
[[nodiscard]] std::string line_id_of(plan::Site const& site, plan::MeteringPoint const& point);

// "19200 8E1", "9600 8N2"; nothing when the text is no format.
[[nodiscard]] std::optional<plan::SerialFormat> serial_format_of(std::string_view text);

// 0: it was computed, whatever fits. 2: it could not be.
[[nodiscard]] int bus_round_command(BusRoundOptions const& options, std::ostream& out, std::ostream& err);

}  // namespace phasewright::commands
