// A restated period in lines for people, as one JSON object, and as columns beside the original rows.
#pragma once
#include <string>

#include "app/commands/interval_file.hpp"
#include "app/commands/restate_command.hpp"
#include "core/correction/restate.hpp"

namespace phasewright::commands {

struct RestatedFile {
    RestateOptions const& options;
    correction::Question const& question;
    IntervalFile const& file;
    correction::Restated const& result;
};
[[nodiscard]] std::string words_of(RestatedFile const& restated);      // ends with a newline
[[nodiscard]] std::string json_line_of(RestatedFile const& restated);  // without one
[[nodiscard]] std::string corrected_csv(RestatedFile const& restated);

}  // namespace phasewright::commands
