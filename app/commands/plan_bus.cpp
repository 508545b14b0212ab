#include "app/commands/plan_bus.hpp"

#include "app/commands/plan_entries.hpp"

namespace phasewright::commands {

namespace {
using tables::Range;
using tables::Table;

constexpr Range any_port{0.0, 65535.0};
constexpr Range places_on_line{0.0, 247.0};  // 0 is the head
constexpr Range cable_m{0.0, 100'000.0};
constexpr int modbus_port = 502;

int read_port(Table const& table) {
    return static_cast<int>(table.whole("port", any_port).value_or(modbus_port));
}

void refuse_both(Table const& table, std::initializer_list<char const*> fields, std::string const& why,
                 std::string const& allowed) {
    for (auto const* field : fields)
        if (table.has(field)) table.refuse(field, why, allowed);
}

std::optional<plan::PairLabels> read_labels(Table const& table) {
    auto const labels = table.table("labels");
    if (!labels) return std::nullopt;
    labels->only({"d1", "d0"});
    return plan::PairLabels{labels->needed_text("d1"), labels->needed_text("d0")};
}

std::optional<std::vector<int>> read_terminators(Table const& table) {
    if (!table.has("terminators")) return std::nullopt;
    std::vector<int> positions;
    for (auto const position : table.wholes("terminators", places_on_line)) {
        if (std::ranges::find(positions, static_cast<int>(position)) != positions.end())
            table.refuse("terminators", "a position stands in the list twice", "each once");
        positions.push_back(static_cast<int>(position));
    }
    return positions;
}
}  // namespace

plan::Gateway read_gateway(Table const& table) {
    table.only({"id", "name", "host", "port"});
    plan::Gateway gateway{.id = read_id(table), .name = {}, .host = {}};
    gateway.name = table.text("name").value_or(gateway.id);
    gateway.host = table.needed_text("host");
    gateway.port = read_port(table);
    return gateway;
}

plan::SerialLine read_serial_line(Table const& table, plan::Site const& site) {
    table.only({"id", "name", "device", "bit_rate", "parity", "stop_bits", "answer_timeout_ms", "length_m", "terminators",
                "bias_at", "labels", "cable", "panel"});
    plan::SerialLine line{.id = read_id(table)};
    line.name = table.text("name").value_or(line.id);
    line.device = table.text("device").value_or("");
    line.format.bit_rate = static_cast<int>(table.whole("bit_rate", {300.0, 1'000'000.0}).value_or(19200));
    if (auto const parity = table.word("parity", {"even", "odd", "none"}))
        line.format.parity = *plan::parity_of(*parity);
    long long const stop_bits = line.format.parity == plan::Parity::none ? 2 : 1;
    line.format.stop_bits = static_cast<int>(table.whole("stop_bits", {1.0, 2.0}).value_or(stop_bits));
    line.answer_timeout_ms =
        static_cast<int>(table.whole("answer_timeout_ms", {20.0, 60'000.0}).value_or(1000));
    line.length_m = table.number("length_m", cable_m).value_or(0.0);
    line.terminators = read_terminators(table);
    if (auto const place = table.whole("bias_at", places_on_line)) line.bias_at = static_cast<int>(*place);
    line.labels = read_labels(table);
    line.cable = table.text("cable").value_or("");
    line.panel = named_entry(table, "panel", site.panels, "panel");
    return line;
}

plan::BusAddress read_address(Table const& table, plan::Site const& site) {
    table.only({"host", "port", "gateway", "serial_line", "position", "unit", "distance_m", "drop_m", "labels"});
    plan::BusAddress address;
    Range units{0.0, 255.0};
    if (table.has("serial_line")) {
        refuse_both(table, {"host", "port", "gateway"}, "a meter on a serial line has no such field",
                    "either serial_line, or gateway, or host and port");
        if (auto const* const line = entry_of(table, "serial_line", site.serial_lines, "serial line")) {
            address.serial_line = line->id;
            address.port = 0;
        }
        address.position = static_cast<int>(table.whole("position", {1.0, 247.0}).value_or(0));
        // Behind the head of a line, 0 is a broadcast and 248 to 255 are reserved (MODBUS over Serial Line V1.02, 2.2).
        units = {1.0, 247.0};
    } else if (table.has("gateway")) {
        refuse_both(table, {"host", "port"}, "the address has a gateway, and the gateway has this field already",
                    "either gateway, or host and port");
        if (auto const* const gateway = entry_of(table, "gateway", site.gateways, "gateway")) {
            address.gateway = gateway->id;
            address.host = gateway->host;
            address.port = gateway->port;
        }
    } else {
        if (!table.has("host"))
            table.refuse("host", "the field is missing",
                         "a host, the id of a gateway in gateway, or the id of a serial line in serial_line");
        address.host = table.text("host").value_or("");
        address.port = read_port(table);
    }
    for (auto const* field : {"position", "distance_m", "drop_m", "labels"})
        if (table.has(field) && !table.has("serial_line"))
            table.refuse(field, "only a meter on a serial line has this", "no such field here");
    address.distance_m = table.number("distance_m", cable_m);
    address.drop_m = table.number("drop_m", cable_m);
    address.labels = read_labels(table);
    address.unit = static_cast<int>(table.whole("unit", units).value_or(1));
    return address;
}

std::string place_of(plan::MeteringPoint const& point) {
    auto const& address = point.address;
    auto const unit = " unit " + std::to_string(address.unit);
    if (!address.serial_line.empty()) return "serial line " + address.serial_line + unit;
    if (address.port == 0) return address.gateway.empty() ? point.id : "gateway " + address.gateway + unit;
    return address.host + ":" + std::to_string(address.port) + unit;
}

}  // namespace phasewright::commands
