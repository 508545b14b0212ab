// `phasewright plan design`: what is still open in a plan, proposed with its reasons; the completed plan is
// written where it was asked for, and nowhere else (docs/reference/plan-design.md,
// docs/tasks/design-a-plan.md).
#pragma once
#include <expected>
#include <filesystem>
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

#include "core/design/design.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

struct PlanDesignOptions {
    std::string plan_file;
    std::vector<std::filesystem::path> catalogue_files;  // empty: the one that came along
    std::optional<std::filesystem::path> out_file;       // where the completed plan is written
    bool in_place = false;                               // it may be the plan itself
    std::optional<std::filesystem::path> profiles_folder;
    bool share_meters = false;
    bool json = false;
    std::size_t width = 100;
};

// 0: it was designed, whatever is still open. 2: it could not be.
[[nodiscard]] int plan_design_command(PlanDesignOptions const& options, std::ostream& out, std::ostream& err);

// Every profile of a folder, by name.
[[nodiscard]] std::expected<std::vector<design::MeterOffer>, quantity::Fault> meters_in(
    std::filesystem::path const& folder);

[[nodiscard]] std::string proposal_lines(design::Proposal const& proposal, std::size_t width);
[[nodiscard]] std::string proposal_json_line(design::Proposal const& proposal);  // without an end of line

}  // namespace phasewright::commands
