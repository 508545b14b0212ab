// `phasewright twin PLAN WIRED`: the virtual meters of a building (docs/reference/twin.md). One process
// stands in for every meter of the plan, wired as WIRED says, and answers on Modbus TCP at 127.0.0.1 and on a
// pseudo-terminal for each serial line, until its standard input closes or it is asked to end. The line
// "rewire" on that input has WIRED and the bus file read again. Whoever starts it holds the other end of that
// input, so it never outlives its parent.
#pragma once
#include <filesystem>
#include <optional>

namespace phasewright::commands {

struct TwinOptions {
    std::filesystem::path plan_file;
    std::filesystem::path wired_file;
    std::optional<std::filesystem::path> bus_file;  // --bus: how the buses really are; else as planned
    std::optional<std::filesystem::path>
        ports_file;  // --ports: which port each point and which device each line got
    std::optional<std::filesystem::path> profiles_folder;  // default: the profiles that came with the program
};

// Prints "ready" on the standard output once every meter listens and the ports file is written.
// 0: it ran and was asked to end. 2: it could not start; the reason is on the error output.
[[nodiscard]] int run_twin(TwinOptions const& options);

}  // namespace phasewright::commands
