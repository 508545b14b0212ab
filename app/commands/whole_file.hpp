// Files are read whole and written whole: a file appears under its name only when it is complete.
#pragma once
#include <expected>
#include <filesystem>
#include <string>

#include "core/quantity/fault.hpp"

namespace phasewright::commands {

// `what` is what the file holds, in words: "interval data".
[[nodiscard]] std::expected<std::string, quantity::Fault> text_of(std::filesystem::path const& file, std::string const& what);
[[nodiscard]] std::expected<void, quantity::Fault> write_whole(std::filesystem::path const& file, std::string const& text,
                                                               std::string const& what, std::string const& remedy);

}  // namespace phasewright::commands
