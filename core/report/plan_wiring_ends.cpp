#include "core/report/plan_wiring_ends.hpp"

#include <algorithm>

#include "core/quantity/text.hpp"

namespace phasewright::report {

namespace {

using plan::BusRole;
using plan::SupplyRole;
using plan::WireUse;

void land(PointWiring& wiring, PlannedWire wire, std::string const& says) {
    wiring.rows.push_back({wire.to.key, wire.to.terminal, says, wire.use});
    wiring.wires.push_back(std::move(wire));
}

// The two poles of a feed, in the order in which they leave the supply.
std::array<std::string, 2> poles_of(plan::ControlSupply const* supply,
                                    std::vector<plan::SupplyTerminal> const& terminals) {
    bool dc = supply != nullptr && supply->kind == plan::CurrentKind::dc;
    if (supply == nullptr)
        dc = std::ranges::any_of(terminals, [](auto const& one) { return one.role == SupplyRole::positive; });
    if (dc) return {"+", "\u2212"};
    bool const two_lines =
        std::ranges::any_of(terminals, [](auto const& one) { return one.role == SupplyRole::second_line; });
    return {"L", two_lines ? "L'" : "N"};
}

void add_supply(plan::Site const& site, plan::MeteringPoint const& point, MeterFacts const& meter,
                PointWiring& wiring) {
    auto const& feed = point.supply;
    bool const from_inputs =
        meter.hardware.supply && meter.hardware.supply->kind == plan::SupplyKind::voltage_inputs;
    if (from_inputs || (feed && feed->supply.empty())) {
        wiring.fed_from_voltages = "The meter is fed from its voltage terminals.";
        return;
    }
    plan::ControlSupply const* supply = nullptr;
    for (auto const& one : site.supplies)
        if (feed && one.id == feed->supply) supply = &one;
    Origin box{.title = "Control supply", .lines = {}};
    if (supply != nullptr) {
        box.title = supply->name.empty() ? supply->id : supply->name;
        box.lines.push_back(quantity::shortest(supply->volts) + " V " +
                            std::string(plan::name_of(supply->kind)));
        box.lines.push_back(supply->fuse_a ? "fuse " + quantity::shortest(*supply->fuse_a) + " A" : "");
    } else {
        box.lines = {"", ""};
    }
    auto terminals = meter.hardware.supply_terminals;
    std::erase_if(terminals, [](auto const& one) { return one.role == SupplyRole::earth; });
    if (terminals.size() < 2) terminals = {{"", SupplyRole::line}, {"", SupplyRole::neutral}};
    auto const poles = poles_of(supply, terminals);
    bool const crossed = feed && feed->polarity == plan::Polarity::crossed;
    for (std::size_t k = 0; k < 2; ++k) {
        std::size_t const pole = crossed ? 1 - k : k;
        std::string const key = "s" + std::to_string(k);
        PlannedWire wire{
            .net = "supply " + poles[pole], .says = "supply " + poles[pole], .use = WireUse::supply};
        wire.from = {Device::supply, "s" + std::to_string(pole), "supply", poles[pole]};
        wire.to = {Device::meter, key, "meter", terminals[k].label};
        wire.size = feed ? size_words(feed->size) : "";
        if (feed && feed->length_m > 0.0) wire.length = length_words(site.region, feed->length_m);
        land(wiring, std::move(wire), "supply " + poles[k]);
    }
    if (crossed)
        wiring.notes.push_back("The plan lands the two supply wires crossed; it is drawn as planned.");
    wiring.supply = std::move(box);
}

std::string role_words(BusRole role, std::string const& printed) {
    std::string words = role == BusRole::d1       ? "D1"
                        : role == BusRole::d0     ? "D0"
                        : role == BusRole::common ? "common"
                        : role == BusRole::shield ? "shield"
                                                  : "Ethernet";
    bool const of_the_pair = role == BusRole::d1 || role == BusRole::d0;
    if (!printed.empty() && of_the_pair && printed != words) words += ", printed " + printed;
    return words;
}

Origin bus_box(plan::Site const& site, plan::MeteringPoint const& point) {
    auto const& address = point.address;
    for (auto const& line : site.serial_lines)
        if (line.id == address.serial_line)
            return {line.name.empty() ? line.id : line.name,
                    {"address " + std::to_string(address.unit),
                     address.position > 0 ? "place " + std::to_string(address.position) : "place along it",
                     plan::words_of(line.format)}};
    Origin box{.title = "Ethernet", .lines = {}};
    for (auto const& gateway : site.gateways)
        if (gateway.id == address.gateway) {
            box.title = gateway.name.empty() ? gateway.id : gateway.name;
            box.lines = {"unit " + std::to_string(address.unit), "speed, parity", ""};
            return box;
        }
    if (point.to_choose.address || address.host.empty()) {
        box.lines = {"", ""};
        return box;
    }
    box.lines.push_back(address.host + (address.port == 0 ? "" : ":" + std::to_string(address.port)));
    box.lines.push_back("unit " + std::to_string(address.unit));
    return box;
}

void add_bus(plan::Site const& site, plan::MeteringPoint const& point, MeterFacts const& meter,
             PointWiring& wiring) {
    bool const serial = !point.address.serial_line.empty() || !point.address.gateway.empty();
    auto terminals = meter.hardware.bus_terminals;
    std::erase_if(terminals, [&](auto const& one) { return (one.role == BusRole::socket) == serial; });
    if (terminals.empty()) {
        if (serial)
            terminals = {{"", BusRole::d1, ""}, {"", BusRole::d0, ""}, {"", BusRole::common, ""}};
        else
            terminals = {{"", BusRole::socket, ""}};
    }
    auto const box = bus_box(site, point);
    for (std::size_t k = 0; k < terminals.size(); ++k) {
        auto const role = terminals[k].role;
        std::string const pin = role_words(role, "");
        PlannedWire wire{.net = "bus " + pin, .says = pin, .use = WireUse::bus};
        wire.from = {Device::bus, "b" + std::to_string(k), "bus", role == BusRole::socket ? "" : pin};
        wire.to = {Device::meter, "b" + std::to_string(k), "meter", terminals[k].label};
        land(wiring, std::move(wire), role_words(role, terminals[k].printed));
    }
    wiring.bus = box;
}

}  // namespace

void add_supply_and_bus(plan::Site const& site, plan::MeteringPoint const& point, MeterFacts const& meter,
                        PointWiring& wiring) {
    add_supply(site, point, meter, wiring);
    add_bus(site, point, meter, wiring);
    if (meter.hardware.earth_terminal.empty()) return;
    auto const* const panel = panel_of(site, point.panel);
    auto const* const colours = plan::colours_for(site.region, panel == nullptr ? "" : panel->colours,
                                                  panel == nullptr ? 0.0 : panel->nominal.v_ll);
    PlannedWire wire{.net = "meter earth", .says = wiring.earth_word, .use = WireUse::earth};
    wire.from = {Device::earth, "meter", wiring.earth_letters, ""};
    wire.to = {Device::meter, "e", "meter", meter.hardware.earth_terminal};
    wire.colour = colours == nullptr ? "" : colours->earth;
    land(wiring, std::move(wire), wiring.earth_word);
}

}  // namespace phasewright::report
