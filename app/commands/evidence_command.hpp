// The group `phasewright evidence`: one test, one small file, one answer (docs/tasks/prove-a-point.md).
#pragma once
#include <filesystem>
#include <iosfwd>
#include <optional>
#include <string>

#include "app/commands/evidence_tests.hpp"

namespace phasewright::commands {

struct EvidenceOptions {
    std::filesystem::path file;
    std::optional<std::filesystem::path> limits_file;
    std::optional<std::filesystem::path> plan_file;  // with `point`: what a dead test is held against
    std::optional<std::string> point;
    std::optional<std::filesystem::path> profiles_folder;
    bool json = false;
};

// 0: all passed; 1: something failed or is not provable; 2: a file cannot be used.
[[nodiscard]] int evidence_command(EvidenceReader read, EvidenceOptions const& options, std::ostream& out,
                                   std::ostream& err);

}  // namespace phasewright::commands
