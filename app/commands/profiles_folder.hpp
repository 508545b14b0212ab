// Where the profiles lie that came with the program: beside an installed executable in
// share/phasewright/profiles, else in the source tree it was built from.
#pragma once
#include <filesystem>
#include <optional>

namespace phasewright::commands {

[[nodiscard]] std::filesystem::path own_executable();

// The folder that was asked for, or the one that came along.
[[nodiscard]] std::filesystem::path profiles_folder(std::optional<std::filesystem::path> const& asked);

}  // namespace phasewright::commands
