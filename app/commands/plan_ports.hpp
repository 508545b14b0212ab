// Where the meters of a plan turned out to be, once virtual ones have started: the TCP port of each point that has one,
// and the device of each serial line. docs/reference/plan.md, "Ports", is the file.
#pragma once
#include <expected>
#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "core/plan/site.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

using Ports = std::map<std::string, int>;            // by point id
using Devices = std::map<std::string, std::string>;  // "/dev/pts/7", by serial line id
[[nodiscard]] std::string ports_text(Ports const& ports, Devices const& devices = {});

// Fills the ports that the plan left at 0 and the devices that it left empty; what is still open afterwards is a fault,
// and so is a port or device for something that the plan does not have.
[[nodiscard]] std::expected<void, quantity::Fault> fill_ports(plan::Site& site, std::string_view text,
                                                              std::string const& file);

// The plan of a file, its open ends filled from the ports file where there is one.
[[nodiscard]] std::expected<plan::Site, quantity::Fault> planned_site(
    std::filesystem::path const& plan_file, std::optional<std::filesystem::path> const& ports_file);

}  // namespace phasewright::commands
