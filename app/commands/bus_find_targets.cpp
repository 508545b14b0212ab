// What was named on the command line or in the plan, as lines, gateways and hosts to search.
#include <algorithm>
#include <charconv>

#include <fmt/format.h>

#include "app/commands/bus_find_command.hpp"
#include "app/commands/plan_file.hpp"
#include "app/commands/plan_ports.hpp"
#include "app/commands/whole_file.hpp"

namespace phasewright::commands {

namespace {
using quantity::Fault;

constexpr int modbus_port = 502;

// A line that the plan leaves open has no device or port yet; nothing can be asked there.
std::unexpected<Fault> not_known_yet(std::string const& where, std::string const& what) {
    return std::unexpected(Fault{"the plan does not say yet " + what, where, {}, {}, "name the ports file with --ports"});
}

std::expected<void, Fault> add_planned(std::vector<FindTarget>& targets, plan::Site const& site) {
    for (auto const& line : site.serial_lines) {
        FindTarget target{.kind = FindTarget::Kind::serial, .line = line.id, .device = line.device, .format = line.format};
        for (auto const& point : site.points)
            if (point.address.serial_line == line.id) target.planned.push_back(point);
        targets.push_back(std::move(target));
    }
    for (auto const& gateway : site.gateways) {
        FindTarget target{.kind = FindTarget::Kind::gateway, .line = gateway.id};
        auto port = gateway.port;
        for (auto const& point : site.points) {
            if (point.address.gateway != gateway.id) continue;
            target.planned.push_back(point);
            port = point.address.port;  // the gateway's own, filled in when it was open
        }
        target.places = {{gateway.host, static_cast<std::uint16_t>(port)}};
        targets.push_back(std::move(target));
    }
    for (auto const& point : site.points) {
        auto const& address = point.address;
        if (!address.gateway.empty() || !address.serial_line.empty()) continue;
        targets.push_back({.kind = FindTarget::Kind::hosts, .line = point.id,
                           .places = {{address.host, static_cast<std::uint16_t>(address.port)}}, .planned = {point}});
    }
    return {};
}

std::expected<void, Fault> keep_named(std::vector<FindTarget>& targets, std::vector<std::string> const& lines) {
    std::vector<std::string> known;
    for (auto const& target : targets) known.push_back(target.line);
    for (auto const& line : lines)
        if (std::find(known.begin(), known.end(), line) == known.end()) {
            std::string all;
            for (auto const& one : known) all += (all.empty() ? "" : " ") + one;
            return std::unexpected(Fault{"the plan has no such line", "--line", line, all, "give one of its ids"});
        }
    if (!lines.empty())
        std::erase_if(targets, [&](FindTarget const& target) {
            return std::find(lines.begin(), lines.end(), target.line) == lines.end();
        });
    for (auto const& target : targets) {
        if (target.kind == FindTarget::Kind::serial && target.device.empty()) return not_known_yet(target.line, "which device it is");
        for (auto const& place : target.places)
            if (place.port == 0) return not_known_yet(target.line, "which port it has");
    }
    return {};
}
}  // namespace

std::expected<std::vector<FindTarget>, Fault> find_targets(BusFindOptions const& options) {
    std::vector<FindTarget> targets;
    if (options.plan_file) {
        auto const site = planned_site(*options.plan_file, options.ports_file);
        if (!site) return std::unexpected(site.error());
        if (auto const added = add_planned(targets, *site); !added) return std::unexpected(added.error());
    }
    if (auto const kept = keep_named(targets, options.lines); !kept) return std::unexpected(kept.error());
    for (auto const& device : options.serial) targets.push_back({.kind = FindTarget::Kind::serial, .line = {}, .device = device});
    for (auto const& gateway : options.gateways) {
        auto const places = finder::read_host_list(gateway, modbus_port);
        if (!places) return std::unexpected(places.error());
        for (auto const& place : *places) targets.push_back({.kind = FindTarget::Kind::gateway, .line = {}, .places = {place}});
    }
    for (auto const& list : options.hosts) {
        auto const places = finder::read_host_list(list, modbus_port);
        if (!places) return std::unexpected(places.error());
        targets.push_back({.kind = FindTarget::Kind::hosts, .line = {}, .places = *places});
    }
    if (targets.empty())
        return std::unexpected(Fault{"nothing was named to search", "bus find", {},
                                     "--serial DEVICE, --gateway HOST[:PORT], --host LIST or --plan FILE",
                                     "name the lines and hosts that are yours to ask"});
    return targets;
}

}  // namespace phasewright::commands
