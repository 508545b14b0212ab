// phasewright plan documents: a plan's papers as a folder of sheets (docs/reference/plan-documents.md).
#pragma once
#include <filesystem>
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

namespace phasewright::commands {

struct PlanDocumentsOptions {
    std::filesystem::path plan_file;
    std::filesystem::path folder;
    std::vector<std::string> points;  // ids; empty: all that are to be installed
    std::string paper = "a4";         // or "letter"
    std::string date;                 // "2026-11-25"; empty: a blank on the sheets
    std::string revision;
    std::optional<std::filesystem::path> profiles_folder;
};

// 0: all sheets stand in the folder. 2: nothing was written, and why.
[[nodiscard]] int plan_documents_command(PlanDocumentsOptions const& options, std::ostream& out,
                                         std::ostream& err);

}  // namespace phasewright::commands
