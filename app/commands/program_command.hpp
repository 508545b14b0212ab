// `phasewright program`: the settings of the plan into the meters, and back (docs/tasks/program-meters.md).
#pragma once
#include <filesystem>
#include <functional>
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

namespace phasewright::commands {

struct ProgramOptions {
    std::filesystem::path plan_file;
    std::optional<std::filesystem::path> ports_file, profiles_folder;
    std::optional<std::filesystem::path> journal_file;  // default: PLAN-settings.jsonl beside the plan
    std::vector<std::string> points, lines;             // ids
    bool all = false;
    std::optional<int> at;  // where the one named point's meter answers now
    std::string at_format;  // and in which format: "9600-8N1"
    bool write = false, undo = false, finish = false;
    std::vector<std::string> confirmed;  // ids of points that need not be typed
    bool json = false;
};

// 0: every meter is as planned, or was made so (or finished, or put back); 1: something differs or was not
// written; 2: it could not be done.
[[nodiscard]] int program_command(ProgramOptions const& options, std::istream& in, std::ostream& out,
                                  std::ostream& err);

}  // namespace phasewright::commands
