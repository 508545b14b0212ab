// phasewright plan export: the metering schedule of a plan as CSV or XLSX (docs/reference/schedule.md).
#pragma once
#include <filesystem>
#include <iosfwd>
#include <optional>

namespace phasewright::commands {

struct PlanExportOptions {
    std::filesystem::path plan_file;
    std::optional<std::filesystem::path> xlsx;
    std::optional<std::filesystem::path> csv;  // "-": standard output
};

// 0: written; 2: not.
[[nodiscard]] int plan_export_command(PlanExportOptions const& options, std::ostream& out, std::ostream& err);

}  // namespace phasewright::commands
