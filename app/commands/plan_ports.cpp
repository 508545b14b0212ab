#include "app/commands/plan_ports.hpp"

#include <vector>

#include "app/commands/plan_file.hpp"
#include "app/commands/whole_file.hpp"
#include "bus/tables/table.hpp"

namespace phasewright::commands {

namespace {
using tables::Table;

void fill_tcp(plan::Site& site, Table const& root) {
    std::vector<std::string> ids;
    auto const ports = root.table("ports").value_or(root);
    for (auto& point : site.points) {
        if (!point.address.serial_line.empty()) continue;
        ids.push_back(point.id);
        auto const port = ports.whole(point.id, {1.0, 65535.0});
        if (port && point.address.port != 0 && point.address.port != *port)
            ports.refuse(point.id, "the plan has another port for this point", std::to_string(point.address.port));
        if (port) point.address.port = static_cast<int>(*port);
        for (auto& gateway : site.gateways)
            if (port && gateway.id == point.address.gateway) gateway.port = point.address.port;
        if (point.address.port == 0) ports.refuse(point.id, "the port of this point is missing", "1 to 65535");
    }
    if (root.has("ports")) ports.only(ids);
}

void fill_serial(plan::Site& site, Table const& root) {
    std::vector<std::string> ids;
    auto const devices = root.table("devices").value_or(root);
    for (auto& line : site.serial_lines) {
        ids.push_back(line.id);
        auto const device = devices.text(line.id);
        if (device && !line.device.empty() && line.device != *device)
            devices.refuse(line.id, "the plan has another device for this line", line.device);
        if (device) line.device = *device;
        if (line.device.empty()) devices.refuse(line.id, "the device of this serial line is missing", "\"/dev/ttyUSB0\"");
    }
    if (root.has("devices")) devices.only(ids);
}
}  // namespace

std::string ports_text(Ports const& ports, Devices const& devices) {
    std::string text = "[ports]\n";
    for (auto const& [id, port] : ports) text += id + " = " + std::to_string(port) + "\n";
    if (devices.empty()) return text;
    text += "\n[devices]\n";
    for (auto const& [id, device] : devices) text += id + " = \"" + device + "\"\n";
    return text;
}

std::expected<void, quantity::Fault> fill_ports(plan::Site& site, std::string_view text, std::string const& file) {
    auto const root = Table::parse(text, file);
    if (!root) return std::unexpected(root.error());
    root->only({"ports", "devices"});
    fill_tcp(site, *root);
    fill_serial(site, *root);
    if (root->fault()) return std::unexpected(*root->fault());
    return {};
}

std::expected<plan::Site, quantity::Fault> planned_site(std::filesystem::path const& plan_file,
                                                        std::optional<std::filesystem::path> const& ports_file) {
    auto const text = text_of(plan_file, "the plan");
    if (!text) return std::unexpected(text.error());
    auto site = read_plan(*text, plan_file.string());
    if (!site || !ports_file) return site;
    auto const ports = text_of(*ports_file, "the ports");
    if (!ports) return std::unexpected(ports.error());
    if (auto const filled = fill_ports(*site, *ports, ports_file->string()); !filled)
        return std::unexpected(filled.error());
    return site;
}

}  // namespace phasewright::commands
