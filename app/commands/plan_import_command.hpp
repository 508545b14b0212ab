// phasewright plan import: a metering schedule, CSV or XLSX, becomes a plan or comes into one (docs/reference/schedule.md).
#pragma once
#include <filesystem>
#include <iosfwd>
#include <optional>
#include <string>

namespace phasewright::commands {

struct PlanImportOptions {
    std::filesystem::path schedule_file;  // "-": standard input
    std::optional<std::filesystem::path> into;
    std::filesystem::path out;
    std::string panel;
    std::string sheet;
    std::string nominal;  // "230/400"
    double hz = 50.0;
};

// 0: every row came in; 1: some were kept aside; 2: nothing was written.
[[nodiscard]] int plan_import_command(PlanImportOptions const& options, std::istream& in, std::ostream& out, std::ostream& err);

}  // namespace phasewright::commands
