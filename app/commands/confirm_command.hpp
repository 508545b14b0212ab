// `phasewright confirm BEFORE AFTER`: two files of reading sets, from before and after a repair, matched by
// id; for each pair, whether the new reading shows what was promised of the repair
// (docs/reference/confirm.md).
#pragma once
#include <filesystem>
#include <iosfwd>
#include <optional>
#include <string>

namespace phasewright::commands {

struct ConfirmOptions {
    std::string before_file, after_file;
    std::string moved_at;  // ISO 8601 with offset; empty: not told
    bool json = false;
    std::optional<std::filesystem::path> priors_file;
};

// 0 when every pair was judged, whatever the judgement; 2 when some could not be: a line that cannot be used,
// an id without its partner, a file that cannot be read. Judgements go to `out`; faults to `err`, those of
// lines with --json to `out`.
[[nodiscard]] int confirm_command(ConfirmOptions const& options, std::ostream& out, std::ostream& err);

}  // namespace phasewright::commands
