// `phasewright diagnose FILE|-`: one reading set a line in, one verdict a line out, in the same order
// (docs/reference/readings.md). A line that cannot be used is answered by a line that says why; the others
// still get their answers. It reads line by line, so a file of any length needs the memory of its longest
// line only.
#pragma once
#include <filesystem>
#include <iosfwd>
#include <optional>
#include <string>

#include "core/diagnosis/priors.hpp"

namespace phasewright::commands {

// Exit statuses: 0 when every line was answered by a verdict, 2 when some were not or the file could not be
// read.
inline constexpr int all_answered = 0;
inline constexpr int some_not_answered = 2;

// `file` is a path, or "-" for `in`. Verdicts and the errors of lines go to `out`, faults of the command to
// `err`. `priors_file` is what is believed before any reading (docs/reference/priors.md); none: the built-in
// numbers.
[[nodiscard]] int diagnose_command(std::string const& file, std::istream& in, std::ostream& out,
                                   std::ostream& err,
                                   std::optional<std::filesystem::path> const& priors_file = {});

// The same on lines that are already open.
[[nodiscard]] int diagnose_lines(std::istream& in, std::ostream& out,
                                 diagnosis::PriorSets const& priors = diagnosis::built_in_sets());

}  // namespace phasewright::commands
