// The loader of "[settings.NAME]" in docs/reference/profile.md.
#include <algorithm>

#include <fmt/format.h>

#include "bus/profile/raw_number.hpp"
#include "bus/profile/section_files.hpp"

namespace phasewright::profile {

namespace {

using tables::Table;

std::vector<std::string> names_of_settings() {
    std::vector<std::string> names;
    names.reserve(all_setting_names.size());
    for (auto const name : all_setting_names) names.emplace_back(name_of(name));
    return names;
}

std::vector<UnitWord> units_of(SettingName name) {
    switch (name) {
        case SettingName::ct_primary: return {{"A", 1.0}, {"kA", 1000.0}};
        case SettingName::vt_primary:
        case SettingName::vt_secondary: return {{"V", 1.0}, {"kV", 1000.0}};
        case SettingName::demand_interval: return {{"min", 1.0}, {"s", 1.0 / 60.0}};
        case SettingName::time_zone: return {{"min", 1.0}, {"h", 60.0}, {"s", 1.0 / 60.0}};
        default: return {};
    }
}

std::vector<std::string> words_of_parities() {
    std::vector<std::string> names;
    for (auto const parity : {plan::Parity::even, plan::Parity::odd, plan::Parity::none})
        names.emplace_back(plan::name_of(parity));
    return names;
}

std::vector<std::string> write_fields() {
    return {"write", "values", "least", "most", "step", "before", "after", "takes_effect", "rescales_energy"};
}

std::vector<RegisterWrite> read_writes(Table const& table, std::string_view field, Defaults const& defaults) {
    std::vector<RegisterWrite> writes;
    for (auto const& one : table.tables(field)) {
        one.only({"register", "value"});
        auto const address = one.whole("register", {.least = 0, .most = last_register});
        auto const value = one.whole("value", {.least = 0, .most = 65535});
        for (auto const* const needed : {"register", "value"})
            if (!one.has(needed)) one.refuse(needed, "the field is missing", "0 to 65535");
        if (!address || !value) continue;
        auto const placed = address_with_base(one, "register", *address, 1, defaults.base);
        writes.push_back({placed.value_or(std::uint16_t{0}), static_cast<std::uint16_t>(*value)});
    }
    return writes;
}

std::uint64_t raw_in(Table const& one, ValueType type) {
    double const span = type == ValueType::uint64 || type == ValueType::int64
                            ? 9.2e18
                            : static_cast<double>(all_bits_of(type));
    return static_cast<std::uint64_t>(one.whole("raw", {.least = 0, .most = span}).value_or(0));
}

// `values`: words for a parity, numbers for the rest; `raw` for all of them or for none.
void read_values(Table const& table, Setting& setting) {
    bool const worded = setting.name == SettingName::parity;
    std::size_t mapped = 0;
    auto const type = setting.field ? setting.field->type : ValueType::uint16;
    for (auto const& one : table.tables("values")) {
        AllowedValue allowed;
        one.only({worded ? "word" : "value", "raw"});
        if (worded) {
            auto const word = one.needed_word("word", words_of_parities());
            allowed.value = static_cast<double>(plan::parity_of(word).value_or(plan::Parity::even));
        } else {
            allowed.value = one.needed_number("value");
        }
        allowed.raw = raw_in(one, type);
        if (one.has("raw")) ++mapped;
        for (auto const& earlier : setting.values) {
            if (earlier.value == allowed.value || (one.has("raw") && earlier.raw == allowed.raw))
                one.refuse(worded ? "word" : "value", "the same value or raw number stands twice",
                           "each once");
        }
        setting.values.push_back(allowed);
    }
    if (mapped != 0 && mapped != setting.values.size())
        table.refuse("values", "some of the values have a raw number and some have none",
                     "all of them or none");
    if (worded && mapped == 0 && !setting.values.empty())
        table.refuse("values", "a word has no raw number", "raw for each word");
    setting.mapped = mapped > 0;
}

void read_limits(Table const& table, Setting& setting) {
    setting.least = table.number("least");
    setting.most = table.number("most");
    setting.step = table.number("step", {.least = 0, .above_least = true});
    bool const half = setting.least.has_value() != setting.most.has_value();
    if (half || (setting.step && !setting.least))
        table.refuse(setting.least ? "least" : "most", "a range has two ends", "least and most");
    if (setting.least && setting.most && *setting.least > *setting.most)
        table.refuse("least", "the range is empty", "least below most");
    if (setting.least && !setting.values.empty())
        table.refuse("least", "the allowed values are said twice", "values, or least and most");
}

void read_writing(Table const& table, Defaults const& defaults, Setting& setting, int registers,
                  bool holding) {
    if (auto const function = table.whole("write")) {
        if (*function != 6 && *function != 16)
            table.refuse("write", "no such function writes registers", "6 or 16");
        setting.write = static_cast<codec::Function>(*function);
        if (*function == 6 && registers > 1)
            table.refuse("write", "function 6 writes one register, and this setting has more", "16");
        if (!holding)
            table.refuse("write", "input registers cannot be written",
                         "a setting that is read with function 3");
        if (setting.field && setting.field->scale_register)
            table.refuse("write", "what is scaled by another register is not written",
                         "a setting with a scale of its own");
    } else {
        for (auto const* const field : {"least", "most", "step", "before", "after", "takes_effect"})
            if (table.has(field))
                table.refuse(field, "the setting is only read: it has no `write`", "write = 6 or 16");
    }
    setting.before = read_writes(table, "before", defaults);
    setting.after = read_writes(table, "after", defaults);
    auto const when = table.word("takes_effect", {"at-once", "after-restart", "unknown"}).value_or("at-once");
    setting.takes_effect = when == "at-once"         ? TakesEffect::at_once
                           : when == "after-restart" ? TakesEffect::after_restart
                                                     : TakesEffect::unknown;
    auto const rescales = table.word("rescales_energy", {"no", "yes", "unknown"}).value_or("unknown");
    setting.rescales_energy = rescales == "no"    ? Rescales::no
                              : rescales == "yes" ? Rescales::yes
                                                  : Rescales::unknown;
    if (table.has("rescales_energy") && !is_ratio(setting.name))
        table.refuse("rescales_energy", "only a ratio can do that to the energies", "a CT or VT ratio");
}

Setting read_number_setting(Table const& table, Defaults const& defaults, SettingName name,
                            std::vector<ServiceShape> const& services) {
    Setting setting{.name = name};
    auto const units = units_of(name);
    auto also = write_fields();
    if (!units.empty()) also.emplace_back("unit");
    setting.field = read_single_field(table, defaults, also);
    if (!units.empty() && setting.field) {
        std::vector<std::string> unit_words;
        for (auto const& unit : units) unit_words.emplace_back(unit.word);
        auto const chosen = table.word("unit", unit_words).value_or(unit_words.front());
        for (auto const& unit : units)
            if (unit.word == chosen) setting.field->unit_factor = unit.factor;
    }
    if (name == SettingName::service) {
        if (table.has("values"))
            table.refuse("values", "the services say it themselves", "`setting` in each [[services]]");
        auto const mask = all_bits_of(setting.field ? setting.field->type : ValueType::uint16);
        for (auto const& shape : services) {
            if (!shape.setting) continue;
            setting.values.push_back(
                {static_cast<double>(shape.service), static_cast<std::uint64_t>(*shape.setting) & mask});
        }
        setting.mapped = true;
    } else {
        read_values(table, setting);
    }
    read_limits(table, setting);
    bool const holding = !setting.field || setting.field->function == codec::Function::read_holding_registers;
    read_writing(table, defaults, setting, setting.field ? registers_of(setting.field->type) : 1, holding);
    return setting;
}

// Six registers one after the other in any order, or one number of seconds.
Setting read_clock(Table const& table, Defaults const& defaults) {
    Setting setting;
    setting.name = SettingName::clock;
    setting.clock.emplace();
    constexpr std::array part_names{"year", "month", "day", "hour", "minute", "second"};
    auto known = format_fields();
    for (auto const* const field :
         {"register", "year_zero", "keeps", "write", "before", "after", "takes_effect", "rescales_energy"})
        known.emplace_back(field);
    known.insert(known.end(), part_names.begin(), part_names.end());
    table.only(known);
    auto const format = read_format(table, defaults.format);
    int registers = 0;
    int first = 65535;
    int last = 0;
    auto const take = [&](char const* name) -> std::optional<Field> {
        auto const address = table.whole(name, {.least = 0, .most = last_register});
        if (!address) return std::nullopt;
        Field field = format;
        field.address = address_with_base(table, name, *address, registers_of(format.type), defaults.base)
                            .value_or(std::uint16_t{0});
        registers += registers_of(format.type);
        first = std::min<int>(first, field.address);
        last = std::max<int>(last, field.address + registers_of(format.type) - 1);
        return field;
    };
    setting.clock->seconds = take("register");
    for (std::size_t at = 0; at < part_names.size(); ++at) {
        if (table.has(part_names.at(at)) == setting.clock->seconds.has_value())
            table.refuse(part_names.at(at), "a clock is one number or six",
                         "register, or year, month, day, hour, minute and second");
        setting.clock->parts.at(at) = take(part_names.at(at));
    }
    if (registers != 0 && last - first + 1 != registers)
        table.refuse("year", "the six numbers are not one run of registers", "registers one after the other");
    setting.clock->year_zero =
        static_cast<int>(table.whole("year_zero", {.least = 0, .most = 2100}).value_or(0));
    setting.clock->utc = table.word("keeps", {"utc", "local"}).value_or("utc") == "utc";
    read_writing(table, defaults, setting, registers,
                 format.function == codec::Function::read_holding_registers);
    return setting;
}

}  // namespace

std::vector<Setting> read_settings(Table const& root, Defaults const& defaults,
                                   std::vector<ServiceShape> const& services) {
    std::vector<Setting> settings;
    auto const all = root.table("settings");
    if (!all) return settings;
    all->only(names_of_settings());
    for (auto const name : all_setting_names) {
        auto const table = all->table(name_of(name));
        if (!table) continue;
        if (name == SettingName::clock) {
            settings.push_back(read_clock(*table, defaults));
        } else if (table->has("fixed")) {
            table->only({"fixed"});
            settings.push_back(
                {.name = name, .fixed = table->number("fixed", {.least = 0, .above_least = true})});
        } else {
            settings.push_back(read_number_setting(*table, defaults, name, services));
        }
    }
    return settings;
}

}  // namespace phasewright::profile
