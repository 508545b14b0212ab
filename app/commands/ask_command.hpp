// `phasewright diagnose FILE --ask`: the program proposes a test, a person makes it and types what came out, and the
// verdict moves, until it is settled or nothing is left to ask (docs/tasks/ask-the-next-test.md).
#pragma once
#include <filesystem>
#include <iosfwd>
#include <optional>
#include <string>

namespace phasewright::commands {

struct AskOptions {
    std::string file;                                  // of reading sets; not "-", because answers come from there
    std::string id;                                    // which line; empty: the only one
    std::optional<std::filesystem::path> save_file;    // where the set with its answers goes at the end
    std::optional<std::filesystem::path> priors_file;
    std::size_t width = 80;
};

// Answers are read from `in`, one a line: what the test asks for, `skip` when it cannot be made, `quit`. The talk goes to
// `out`, faults to `err`. 0 when the talk ended by itself or by quit, 2 when it could not begin or the file not be written.
[[nodiscard]] int ask_command(AskOptions const& options, std::istream& in, std::ostream& out, std::ostream& err);

}  // namespace phasewright::commands
