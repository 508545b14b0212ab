// phasewright bus check --plan FILE --line ID: every planned device of a serial line is asked several times, and what came
// back is weighed: which fault of the line explains it, and what to check next (docs/reference/bus-check.md). Listens
// before it asks; only reads.
#pragma once
#include <filesystem>
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

namespace phasewright::commands {

struct BusCheckOptions {
    std::filesystem::path plan_file;
    std::optional<std::filesystem::path> ports_file;
    std::string line;                 // id; may be left out where the plan has one
    int tries = 5;
    double listen_s = 10.0;           // less counts as 10
    std::vector<std::string> volts;   // "0.18" at the head, "9=-0.25" at the ninth position
    std::string ohms;                 // "40", "open"
    std::optional<double> common_v;
    std::optional<std::filesystem::path> recorded_file;  // judge these exchanges; nothing is asked
    std::optional<std::filesystem::path> save_file;      // keep what was asked and came back
    bool json = false;
    std::size_t width = 80;
};

// 0: it was judged, whatever the judgement. 2: it could not be.
[[nodiscard]] int bus_check_command(BusCheckOptions const& options, std::ostream& out, std::ostream& err);

}  // namespace phasewright::commands
