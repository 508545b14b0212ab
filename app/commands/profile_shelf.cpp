#include "app/commands/profile_shelf.hpp"

namespace phasewright::commands {

std::expected<std::shared_ptr<profile::Profile const>, quantity::Fault> ProfileShelf::take(
    std::string const& name) {
    if (auto const known = read_.find(name); known != read_.end()) return known->second;
    auto profile = profile::read_profile_file((folder_ / (name + ".toml")).string());
    if (!profile) return std::unexpected(profile.error());
    auto kept = std::make_shared<profile::Profile const>(std::move(*profile));
    read_.emplace(name, kept);
    return kept;
}

}  // namespace phasewright::commands
