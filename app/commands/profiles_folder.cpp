#include "app/commands/profiles_folder.hpp"

#include <system_error>

namespace phasewright::commands {

std::filesystem::path own_executable() {
    std::error_code none;
    return std::filesystem::read_symlink("/proc/self/exe", none);
}

std::filesystem::path profiles_folder(std::optional<std::filesystem::path> const& asked) {
    if (asked) return *asked;
    std::error_code none;
    auto installed = own_executable().parent_path().parent_path() / "share/phasewright/profiles";
    if (std::filesystem::is_directory(installed, none)) return installed;
    return std::filesystem::path{PHASEWRIGHT_SOURCE_DIR} / "profiles";
}

}  // namespace phasewright::commands
