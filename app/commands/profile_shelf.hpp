// The profiles that a plan names, each file read once.
#pragma once
#include <expected>
#include <filesystem>
#include <map>
#include <memory>
#include <string>

#include "bus/profile/profile.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

class ProfileShelf {
public:
    explicit ProfileShelf(std::filesystem::path folder) : folder_(std::move(folder)) {}

    // `name` as the plan gives it, without ".toml"; never "sunspec".
    [[nodiscard]] std::expected<std::shared_ptr<profile::Profile const>, quantity::Fault> take(
        std::string const& name);

private:
    std::filesystem::path folder_;
    std::map<std::string, std::shared_ptr<profile::Profile const>> read_;
};

}  // namespace phasewright::commands
