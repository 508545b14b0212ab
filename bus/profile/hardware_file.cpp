// The loader of what docs/reference/profile.md says under "The meter as a thing with screws".
#include <algorithm>
#include <array>

#include "bus/profile/section_files.hpp"

namespace phasewright::profile {

namespace {

using plan::Between;
using tables::Range;
using tables::Table;

constexpr Range positive{.least = 0, .above_least = true};
constexpr Range not_negative{.least = 0};

std::optional<Between> read_between(Table const& table, std::string_view field, Range allowed) {
    if (!table.has(field)) return std::nullopt;
    auto const ends = table.numbers(field, 2, allowed);
    if (ends.size() != 2) return std::nullopt;
    if (ends[0] > ends[1]) table.refuse(field, "the first end lies above the second", "[least, most]");
    return Between{ends[0], ends[1]};
}

// The enumerator whose name the word is; `all` in the order of the documents.
template <class Enum, std::size_t Count>
Enum needed_choice(Table const& table, std::string_view field, std::array<Enum, Count> const& all) {
    std::vector<std::string> names;
    for (auto const one : all) names.emplace_back(plan::name_of(one));
    auto const word = table.needed_word(field, names);
    for (auto const one : all)
        if (plan::name_of(one) == word) return one;
    return all.front();
}

constexpr std::array bus_roles{plan::BusRole::d1, plan::BusRole::d0, plan::BusRole::common,
                               plan::BusRole::shield, plan::BusRole::socket};
constexpr std::array supply_roles{plan::SupplyRole::line,        plan::SupplyRole::neutral,
                                  plan::SupplyRole::second_line, plan::SupplyRole::positive,
                                  plan::SupplyRole::negative,    plan::SupplyRole::earth};
constexpr std::array wire_uses{plan::WireUse::voltage, plan::WireUse::current, plan::WireUse::supply,
                               plan::WireUse::bus, plan::WireUse::earth};
constexpr std::array supply_kinds{plan::SupplyKind::ac, plan::SupplyKind::dc, plan::SupplyKind::ac_or_dc,
                                  plan::SupplyKind::voltage_inputs};
constexpr std::array bus_kinds{plan::BusKind::serial, plan::BusKind::ethernet, plan::BusKind::either,
                               plan::BusKind::both};
constexpr std::array ct_outputs{plan::CtOutput::five_amperes, plan::CtOutput::one_ampere,
                                plan::CtOutput::millivolts, plan::CtOutput::milliamperes,
                                plan::CtOutput::coil};
constexpr std::array parities{plan::Parity::even, plan::Parity::odd, plan::Parity::none};

plan::CurrentInput read_current_input(Table const& table) {
    table.only({"output", "rated", "most", "burden_va", "resistance", "commoned", "low_side_earthed"});
    plan::CurrentInput input;
    input.output = needed_choice(table, "output", ct_outputs);
    input.rated = table.needed_number("rated", positive);
    input.most = table.number("most", positive);
    input.burden_va = table.number("burden_va", not_negative);
    input.resistance = table.number("resistance", positive);
    input.commoned = table.flag("commoned").value_or(false);
    input.low_side_earthed = table.flag("low_side_earthed").value_or(false);
    bool const amperes =
        input.output == plan::CtOutput::five_amperes || input.output == plan::CtOutput::one_ampere;
    if (table.has("burden_va") && !amperes)
        table.refuse("burden_va", "only a current loop sees a burden in VA", "resistance");
    if (input.most && *input.most < input.rated)
        table.refuse("most", "the input bears less than it is rated for", "rated, or more");
    return input;
}

plan::VoltageInputs read_voltage_inputs(Table const& table) {
    table.only({"most_ln", "most_ll", "least_ll", "category", "burden_va"});
    plan::VoltageInputs inputs;
    inputs.most_ln = table.number("most_ln", positive);
    inputs.most_ll = table.number("most_ll", positive);
    inputs.least_ll = table.number("least_ll", positive);
    inputs.category = table.text("category").value_or("");
    inputs.burden_va = table.number("burden_va", not_negative);
    return inputs;
}

// Wire gauges as the trade writes them, thick ones as 1/0 to 4/0.
bool is_awg(std::string const& text) {
    if (text.size() == 3 && text[0] >= '1' && text[0] <= '4' && text.ends_with("/0")) return true;
    return !text.empty() && text.size() <= 2 &&
           std::ranges::all_of(text, [](char c) { return c >= '0' && c <= '9'; });
}

plan::WireRange read_wire(Table const& table) {
    table.only({"for", "mm2", "awg", "strip_mm", "torque_nm"});
    plan::WireRange wire;
    wire.use = needed_choice(table, "for", wire_uses);
    wire.mm2 = read_between(table, "mm2", positive);
    auto const gauges = table.texts("awg");
    if (!gauges.empty() && (gauges.size() != 2 || !std::ranges::all_of(gauges, is_awg)))
        table.refuse("awg", "this is no range of wire gauges", R"(["24", "12"]: thinnest and thickest)");
    if (gauges.size() == 2) {
        wire.thinnest_awg = gauges[0];
        wire.thickest_awg = gauges[1];
    }
    wire.strip_mm = table.number("strip_mm", positive);
    wire.torque_nm = read_between(table, "torque_nm", positive);
    return wire;
}

plan::MeterSupply read_supply(Table const& table) {
    table.only({"kind", "ac_v", "dc_v", "hz", "power_w", "power_va", "inrush_a", "inrush_ms", "fuse_a",
                "isolated_from_bus"});
    plan::MeterSupply supply;
    supply.kind = needed_choice(table, "kind", supply_kinds);
    supply.ac_v = read_between(table, "ac_v", positive);
    supply.dc_v = read_between(table, "dc_v", positive);
    supply.hz = read_between(table, "hz", positive);
    supply.power_w = table.number("power_w", positive);
    supply.power_va = table.number("power_va", positive);
    supply.inrush_a = table.number("inrush_a", positive);
    supply.inrush_ms = table.number("inrush_ms", positive);
    supply.fuse_a = table.number("fuse_a", positive);
    supply.isolated_from_bus = table.flag("isolated_from_bus").value_or(true);
    bool const wants_ac = supply.kind == plan::SupplyKind::ac || supply.kind == plan::SupplyKind::ac_or_dc;
    bool const wants_dc = supply.kind == plan::SupplyKind::dc || supply.kind == plan::SupplyKind::ac_or_dc;
    if (wants_ac != supply.ac_v.has_value())
        table.refuse("ac_v", "the kind of supply and its voltage do not fit",
                     R"(ac_v for "ac" and "ac-or-dc" only)");
    if (wants_dc != supply.dc_v.has_value())
        table.refuse("dc_v", "the kind of supply and its voltage do not fit",
                     R"(dc_v for "dc" and "ac-or-dc" only)");
    return supply;
}

plan::MeterLimits read_environment(Table const& table) {
    table.only({"temperature_c", "humidity_percent", "altitude_m"});
    plan::MeterLimits limits;
    limits.temperature_c = read_between(table, "temperature_c", {.least = -80, .most = 150});
    limits.humidity_percent = table.number("humidity_percent", {.least = 0, .most = 100});
    limits.altitude_m = table.number("altitude_m", positive);
    return limits;
}

plan::AccuracyClass read_accuracy(Table const& table) {
    table.only({"standard", "class", "of"});
    return {.standard = table.needed_text("standard"),
            .word = table.needed_text("class"),
            .reactive = table.word("of", {"active", "reactive"}) == "reactive"};
}

std::vector<int> ints_of(Table const& table, std::string_view field, Range allowed) {
    std::vector<int> numbers;
    for (auto const one : table.wholes(field, allowed)) numbers.push_back(static_cast<int>(one));
    return numbers;
}

plan::SerialFormat read_delivered(Table const& table, plan::MeterBus& bus) {
    table.only({"bit_rate", "parity", "stop_bits", "address"});
    plan::SerialFormat format;
    format.bit_rate = static_cast<int>(table.whole("bit_rate", {.least = 300, .most = 1e6}).value_or(19200));
    if (auto const word = table.word("parity", {"even", "odd", "none"}))
        format.parity = plan::parity_of(*word).value_or(plan::Parity::even);
    int const usual = format.parity == plan::Parity::none ? 2 : 1;
    format.stop_bits = static_cast<int>(table.whole("stop_bits", {.least = 1, .most = 2}).value_or(usual));
    if (auto const address = table.whole("address", {.least = 1, .most = 247}))
        bus.delivered_address = static_cast<int>(*address);
    return format;
}

plan::MeterBus read_bus(Table const& table) {
    table.only({"kind", "bit_rates", "parities", "stop_bits", "delivered", "unit_load", "most_devices",
                "terminator", "answer_ms"});
    plan::MeterBus bus;
    bus.kind = needed_choice(table, "kind", bus_kinds);
    bus.bit_rates = ints_of(table, "bit_rates", {.least = 300, .most = 1e6});
    for (auto const& word : table.texts("parities")) {
        auto const parity = plan::parity_of(word);
        if (!parity || std::ranges::find(parities, *parity) == parities.end())
            table.refuse("parities", "this is no parity", "even, odd, none");
        else
            bus.parities.push_back(*parity);
    }
    bus.stop_bits = ints_of(table, "stop_bits", {.least = 1, .most = 2});
    if (auto const delivered = table.table("delivered")) bus.delivered = read_delivered(*delivered, bus);
    bus.unit_load = table.number("unit_load", {.least = 0, .most = 8, .above_least = true});
    if (auto const most = table.whole("most_devices", {.least = 1, .most = 247}))
        bus.most_devices = static_cast<int>(*most);
    bus.terminator = table.flag("terminator");
    bus.answer_ms = table.number("answer_ms", positive);
    return bus;
}

void read_hardware_terminals(Table const& terminals, plan::MeterHardware& hardware) {
    for (auto const& one : terminals.tables("supply")) {
        one.only({"label", "role"});
        hardware.supply_terminals.push_back(
            {one.needed_text("label"), needed_choice(one, "role", supply_roles)});
    }
    for (auto const& one : terminals.tables("bus")) {
        one.only({"label", "role", "printed"});
        hardware.bus_terminals.push_back({one.needed_text("label"), needed_choice(one, "role", bus_roles),
                                          one.text("printed").value_or("")});
    }
    hardware.earth_terminal = terminals.text("earth").value_or("");
}

}  // namespace

plan::MeterHardware read_hardware(Table const& root) {
    plan::MeterHardware hardware;
    if (auto const terminals = root.table("terminals")) read_hardware_terminals(*terminals, hardware);
    for (auto const& table : root.tables("current_inputs")) {
        auto input = read_current_input(table);
        if (plan::input_for(hardware, input.output) != nullptr)
            table.refuse("output", "this output stands twice", "each output once");
        hardware.current_inputs.push_back(input);
    }
    if (auto const table = root.table("voltage_inputs"))
        hardware.voltage_inputs = read_voltage_inputs(*table);
    for (auto const& table : root.tables("wires")) {
        auto wire = read_wire(table);
        if (plan::wires_for(hardware, wire.use) != nullptr)
            table.refuse("for", "this use stands twice", "each use once");
        hardware.wires.push_back(std::move(wire));
    }
    if (auto const table = root.table("supply")) hardware.supply = read_supply(*table);
    if (auto const table = root.table("limits")) hardware.limits = read_environment(*table);
    for (auto const& table : root.tables("accuracy")) hardware.accuracy.push_back(read_accuracy(table));
    if (auto const table = root.table("bus")) hardware.bus = read_bus(*table);
    return hardware;
}

}  // namespace phasewright::profile
