// Regions as files (docs/reference/regions.md): those that came with the program in regions/, and those that lie in a
// folder regions/ beside a plan.
#pragma once
#include <expected>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "core/plan/region.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

// `name` is the file's name without .toml; a plan calls the region by it.
[[nodiscard]] std::expected<plan::Region, quantity::Fault> read_region(std::string_view text, std::string const& file,
                                                                       std::string const& name);

// Where regions are looked for, in this order.
using RegionFolders = std::vector<std::filesystem::path>;
[[nodiscard]] std::filesystem::path shipped_regions();
[[nodiscard]] RegionFolders regions_beside(std::filesystem::path const& plan_file);

[[nodiscard]] std::vector<std::string> names_of_regions(RegionFolders const& folders);  // sorted, the built-in ones too
// Built-in ones are not looked for. A fault without words: there is no such region.
[[nodiscard]] std::expected<plan::Region, quantity::Fault> region_named(RegionFolders const& folders, std::string const& name);

}  // namespace phasewright::commands
