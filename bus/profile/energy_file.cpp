// The loader of "[energies.NAME]" in docs/reference/profile.md.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "bus/profile/raw_number.hpp"
#include "bus/profile/section_files.hpp"

namespace phasewright::profile {

namespace {

using tables::Table;

std::vector<UnitWord> units_of_quantity(EnergyQuantity quantity) {
    switch (quantity) {
        case EnergyQuantity::active: return {{"Wh", 1.0}, {"kWh", 1e3}, {"MWh", 1e6}};
        case EnergyQuantity::reactive: return {{"varh", 1.0}, {"kvarh", 1e3}, {"Mvarh", 1e6}};
        case EnergyQuantity::apparent: return {{"VAh", 1.0}, {"kVAh", 1e3}, {"MVAh", 1e6}};
    }
    return {};
}

bool is_unsigned(ValueType type) {
    return type == ValueType::uint16 || type == ValueType::uint32 || type == ValueType::uint64;
}

void read_meaning(Table const& table, EnergyHabit& habit) {
    auto const quantity = table.word("quantity", {"active", "reactive", "apparent"}).value_or("active");
    habit.quantity = quantity == "active"     ? EnergyQuantity::active
                     : quantity == "reactive" ? EnergyQuantity::reactive
                                              : EnergyQuantity::apparent;
    auto const kind = table.needed_word("kind", {"net", "import", "export", "absolute"});
    habit.kind = kind == "net"      ? EnergyKind::net
                 : kind == "import" ? EnergyKind::import
                 : kind == "export" ? EnergyKind::export_
                                    : EnergyKind::absolute;
    habit.quadrant = static_cast<int>(table.whole("quadrant", {.least = 1, .most = 4}).value_or(0));
    if (habit.quadrant == 0) return;
    if (habit.quantity != EnergyQuantity::reactive)
        table.refuse("quadrant", "only reactive energy is counted by quadrant", R"(quantity = "reactive")");
    bool const imports = habit.quadrant <= 2;
    if ((habit.kind != EnergyKind::import || !imports) && (habit.kind != EnergyKind::export_ || imports))
        table.refuse("quadrant", "this quadrant is not of this kind",
                     "import with 1 and 2, export with 3 and 4");
}

void read_wrap(Table const& table, EnergyRegisters& energy) {
    auto const type = energy.fields.empty() ? ValueType::uint32 : energy.fields.front().type;
    double const factor = energy.fields.empty() ? 1.0 : energy.fields.front().unit_factor;
    energy.wraps_after = table.number("wraps_after", {.least = 0, .above_least = true});
    energy.wraps_at_full_width = table.flag("wraps_at_full_width").value_or(false);
    bool const never = table.flag("never_wraps").value_or(false);
    if (auto const resolution = table.number("resolution", {.least = 0, .above_least = true}))
        energy.resolution = *resolution * factor;
    energy.habit.wrap_known = energy.wraps_after || energy.wraps_at_full_width || never;
    int const said = (energy.wraps_after ? 1 : 0) + (energy.wraps_at_full_width ? 1 : 0) + (never ? 1 : 0);
    if (said > 1)
        table.refuse("wraps_after", "it is said twice where the counter begins anew",
                     "one of wraps_after, wraps_at_full_width and never_wraps");
    if (energy.wraps_at_full_width && !is_unsigned(type))
        table.refuse("wraps_at_full_width", "this type has a sign or is no whole number",
                     "uint16, uint32, uint64");
    if (energy.wraps_after && is_floating(type) && !energy.resolution)
        table.refuse("wraps_after", "a floating-point counter has no step of its own", "resolution as well");
}

EnergyRegisters read_energy(Table const& table, std::string const& name, Defaults const& defaults,
                            std::size_t phases) {
    auto known = format_fields();
    for (auto const* const field : {"quantity", "kind", "quadrant", "register", "registers", "unit", "sign",
                                    "wraps_after", "wraps_at_full_width", "never_wraps", "resolution"})
        known.emplace_back(field);
    for (auto& field : scaled_fields()) known.push_back(std::move(field));
    table.only(known);
    EnergyRegisters energy;
    energy.habit.name = name;
    read_meaning(table, energy.habit);
    Field common = read_format(table, defaults.format);
    read_scaling(table, defaults, common);
    std::vector<std::string> unit_words;
    auto const units = units_of_quantity(energy.habit.quantity);
    for (auto const& unit : units) unit_words.emplace_back(unit.word);
    auto const chosen = table.word("unit", unit_words).value_or(unit_words.front());
    for (auto const& unit : units)
        if (unit.word == chosen) common.unit_factor = unit.factor;
    if (table.has("sign")) {
        if (energy.habit.kind != EnergyKind::net)
            table.refuse("sign", "only net energy has a sign", R"(kind = "net")");
        common.reversed = table.word("sign", {"import-positive", "export-positive"}) == "export-positive";
    }
    energy.per_phase = table.has("registers");
    if (energy.per_phase == table.has("register"))
        table.refuse("register", "a counter stands once, or once a phase", "register, or registers");
    tables::Range const in_table{.least = 0, .most = last_register};
    std::vector<long long> addresses;
    if (energy.per_phase) {
        addresses = table.wholes("registers", in_table);
        if (!addresses.empty() && addresses.size() != phases)
            table.refuse("registers",
                         fmt::format("{} counters for a meter of {} phases", addresses.size(), phases),
                         "one a phase");
    } else if (auto const address = table.whole("register", in_table)) {
        addresses.push_back(*address);
    }
    auto const* const field_name = energy.per_phase ? "registers" : "register";
    for (long long const address : addresses) {
        energy.fields.push_back(common);
        energy.fields.back().address =
            address_with_base(table, field_name, address, registers_of(common.type), defaults.base)
                .value_or(std::uint16_t{0});
    }
    refuse_overlap(table, energy.fields);
    read_wrap(table, energy);
    return energy;
}

}  // namespace

std::vector<EnergyRegisters> read_energy_registers(Table const& root, Defaults const& defaults,
                                                   std::size_t phases) {
    std::vector<EnergyRegisters> energies;
    auto const all = root.table("energies");
    if (!all) return energies;
    for (auto const& name : all->fields()) {
        auto const is_plain = [](char c) {
            return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_';
        };
        if (name.size() > 40 || !std::ranges::all_of(name, is_plain))
            all->refuse(name, "a counter's name is plain", "up to 40 small letters, digits and _");
        if (auto const table = all->table(name))
            energies.push_back(read_energy(*table, name, defaults, phases));
    }
    std::ranges::sort(energies, {}, [](EnergyRegisters const& energy) { return energy.habit.name; });
    return energies;
}

}  // namespace phasewright::profile
