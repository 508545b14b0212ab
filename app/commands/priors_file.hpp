// Beliefs before any reading as people edit them (docs/reference/priors.md): a TOML file becomes one set of
// priors. A number that the file leaves out keeps the built-in value of the stage that the file names.
#pragma once
#include <expected>
#include <filesystem>
#include <string>
#include <string_view>

#include "core/diagnosis/priors.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

// `file` is the name that faults carry and that verdicts echo. The first mistake refuses the whole file.
[[nodiscard]] std::expected<diagnosis::PriorSet, quantity::Fault> read_priors(std::string_view text,
                                                                              std::string const& file);

// The file's set for every reading set, whatever stage it names. The echo has the file's name without its
// folder.
[[nodiscard]] std::expected<diagnosis::PriorSets, quantity::Fault> priors_from(
    std::filesystem::path const& file);

}  // namespace phasewright::commands
