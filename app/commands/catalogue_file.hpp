// A catalogue of parts as people write it (docs/reference/catalogue.md): TOML, or CSV for current
// transformers alone.
#pragma once
#include <expected>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "core/design/catalogue.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

// `file` is only the name that faults carry. The first mistake refuses the whole.
[[nodiscard]] std::expected<design::Catalogue, quantity::Fault> read_catalogue(std::string_view text,
                                                                               std::string const& file);
[[nodiscard]] std::expected<std::vector<design::CtOffer>, quantity::Fault> read_ct_list(
    std::string_view text, std::string const& file);

// By the file's name: ".csv" is a list of current transformers, anything else TOML.
[[nodiscard]] std::expected<design::Catalogue, quantity::Fault> read_catalogue_file(
    std::filesystem::path const& file);
[[nodiscard]] std::filesystem::path shipped_catalogue();

}  // namespace phasewright::commands
