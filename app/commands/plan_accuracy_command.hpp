// `phasewright plan accuracy`: how well each point of a plan will measure active energy, by the classes on
// the plates (docs/reference/accuracy-classes.md, "Asking for it"; docs/physics/chain.md).
#pragma once
#include <cstdint>
#include <filesystem>
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

namespace phasewright::commands {

struct PlanAccuracyOptions {
    std::string plan_file;
    std::vector<std::string> points;     // ids; empty: all
    std::vector<std::string> confirmed;  // "IEC 62053-22:2003"
    std::string meter_class;             // "IEC 62053-22 0.5S", where a profile names none
    double correlation = 1.0;
    std::optional<std::uint64_t> seed;  // draw too, with this seed
    std::optional<std::filesystem::path> profiles_folder;
    bool json = false;
};

// 0: reckoned; 1: a point cannot show the accuracy that it was planned for; 2: the plan or a profile cannot
// be read.
[[nodiscard]] int plan_accuracy_command(PlanAccuracyOptions const& options, std::ostream& out,
                                        std::ostream& err);

}  // namespace phasewright::commands
