// The key of this device: made at its first use, kept outside every job, readable by its owner alone
// (docs/reference/records.md, "Keys"). Whoever has it can seal entries in the device's name.
#pragma once
#include <expected>
#include <filesystem>
#include <string>

#include "core/quantity/fault.hpp"
#include "records/schema/seal.hpp"

namespace phasewright::store {

struct DeviceKey {
    std::string name;  // "van-2"
    schema::KeyPair key;
};

// $XDG_CONFIG_HOME/phasewright, or .config/phasewright in the home folder; empty when neither is known.
[[nodiscard]] std::filesystem::path config_folder();

// `name` is what a device that has no key yet is called.
[[nodiscard]] std::expected<DeviceKey, quantity::Fault> device_key_in(std::filesystem::path const& folder,
                                                                      std::string const& name);

}  // namespace phasewright::store
