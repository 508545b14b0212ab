// phasewright prove PLAN: the main job. Every meter of the plan is read over its own bus, its wiring is
// diagnosed, one line a metering point says what is wrong and which lead to move first, and the report is
// written. What is wrong on the site never changes the exit status; only a job that could not be done does.
#pragma once
#include <filesystem>
#include <optional>
#include <string>

namespace phasewright::commands {

struct ProveOptions {
    std::filesystem::path plan_file;
    std::optional<std::filesystem::path>
        report_file;  // default: <plan's name>-report.html in the current folder
    std::optional<std::filesystem::path> twins_file;  // --twins WIRED: start virtual meters from this file
    std::optional<std::filesystem::path> bus_file;    // --bus: how their buses really are; else as planned
    std::optional<std::filesystem::path> profiles_folder;  // default: the profiles that came with the program
    std::optional<std::filesystem::path>
        readings_file;  // --readings FILE: also write what was read, one line of the contract a point
    std::optional<std::filesystem::path> priors_file;      // default: the built-in numbers
    int snapshots = 1;                                     // readings of each meter, one second apart
    bool no_load_kinds = false;  // diagnose as if the plan did not tell what kind of load it is
    bool json = false;  // one JSON line a point on the standard output instead of the lines for people
    std::string program = "phasewright";  // with its version, for the report
};

// 0: the job was done, whatever it found. 2: it could not be done; the reason is on the error output.
// Lines for people go to the standard output, progress and faults to the error output.
[[nodiscard]] int run_prove(ProveOptions const& options);

}  // namespace phasewright::commands
