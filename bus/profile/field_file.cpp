#include "bus/profile/field_file.hpp"

#include <array>
#include <cstdlib>

#include <fmt/format.h>

namespace phasewright::profile {

namespace {

using tables::Table;

constexpr std::array type_words{"int16", "uint16", "int32",   "uint32",
                                "int64", "uint64", "float32", "float64"};

std::vector<std::string> words_of_types() { return {type_words.begin(), type_words.end()}; }

ValueType type_of(std::string_view word) {
    for (std::size_t at = 0; at < type_words.size(); ++at) {
        if (word == type_words.at(at)) return static_cast<ValueType>(at);
    }
    return ValueType::uint16;
}

Order order_in(Table const& table, std::string_view field, Order usual) {
    auto const word = table.word(field, {"high-first", "low-first"});
    if (!word) return usual;
    return *word == "low-first" ? Order::low_first : Order::high_first;
}

// What a raw value may be in this width: from the least signed to the largest unsigned number.
tables::Range raw_range(ValueType type) {
    int const bits = 16 * registers_of(type);
    if (bits == 64) return {};
    double const span = static_cast<double>(all_bits_of(type)) + 1.0;
    return {.least = -span / 2, .most = span - 1.0};
}

std::optional<ScaleRegister> read_scale_register(Table const& table, Field const& format, long long base) {
    auto const address = table.whole("scale_register", {.least = 0, .most = last_register});
    if (!address) {
        for (auto const* const field : {"scale_kind", "scale_usual"}) {
            if (table.has(field))
                table.refuse(field, "there is no scale register that this could describe", "scale_register");
        }
        return std::nullopt;
    }
    ScaleRegister scale{.function = format.function};
    scale.address = address_with_base(table, "scale_register", *address, 1, base).value_or(std::uint16_t{0});
    auto const kind =
        table.word("scale_kind", {"power-of-ten", "multiplier", "divisor"}).value_or("power-of-ten");
    scale.kind = kind == "multiplier" ? ScaleKind::multiplier
                 : kind == "divisor"  ? ScaleKind::divisor
                                      : ScaleKind::power_of_ten;
    bool const power = scale.kind == ScaleKind::power_of_ten;
    tables::Range const allowed =
        power ? tables::Range{.least = -10, .most = 10} : tables::Range{.least = 1, .most = 65535};
    scale.usual = static_cast<int>(table.whole("scale_usual", allowed).value_or(power ? 0 : 1));
    return scale;
}

double read_scale(Table const& table) {
    auto const scale = table.number("scale");
    if (scale && *scale == 0.0)
        table.refuse("scale", "a scale of 0 leaves nothing of the number", "any other number");
    return scale.value_or(1.0);
}

std::string words_joined(MeasureWords const& words) { return fmt::format("measurements.{}", words.name); }

}  // namespace

std::uint64_t all_bits_of(ValueType type) {
    int const bits = 16 * registers_of(type);
    return bits == 64 ? ~std::uint64_t{0} : (std::uint64_t{1} << static_cast<unsigned>(bits)) - 1;
}

Field read_format(Table const& table, Field const& usual) {
    Field format = usual;
    if (auto const function = table.whole("function", {.least = 3, .most = 4})) {
        format.function = static_cast<codec::Function>(*function);
    }
    if (auto const type = table.word("type", words_of_types())) format.type = type_of(*type);
    format.words = order_in(table, "word_order", usual.words);
    format.bytes = order_in(table, "byte_order", usual.bytes);
    if (table.has("not_available")) {
        format.not_available.clear();
        for (long long const raw : table.wholes("not_available", raw_range(format.type))) {
            format.not_available.push_back(static_cast<std::uint64_t>(raw) & all_bits_of(format.type));
        }
    } else if (format.type != usual.type) {
        format.not_available.clear();  // another width has other patterns
    }
    return format;
}

// Numbers of one measurement that share a register: a wrong stride, most likely.
void refuse_overlap(Table const& table, std::vector<Field> const& fields) {
    for (std::size_t first = 0; first < fields.size(); ++first) {
        for (std::size_t second = first + 1; second < fields.size(); ++second) {
            int const apart =
                std::abs(static_cast<int>(fields[first].address) - static_cast<int>(fields[second].address));
            int const size = registers_of(fields[first].type);
            if (apart >= size) continue;
            table.refuse("registers",
                         fmt::format("numbers {} and {} share a register", first + 1, second + 1),
                         fmt::format("addresses at least {} apart, the size of the type", size));
        }
    }
}

void read_scaling(Table const& table, Defaults const& defaults, Field& field) {
    field.scale = read_scale(table);
    field.scale_register = read_scale_register(table, field, defaults.base);
}

std::vector<std::string> scaled_fields() { return {"scale", "scale_register", "scale_kind", "scale_usual"}; }

std::vector<std::string> format_fields() {
    return {"function", "type", "word_order", "byte_order", "not_available"};
}

Defaults read_defaults(Table const& root) {
    Defaults defaults;
    defaults.base = root.whole("base", {.least = -last_register, .most = last_register}).value_or(0);
    defaults.format = read_format(root, Field{});
    return defaults;
}

std::optional<std::uint16_t> address_with_base(Table const& table, std::string_view address_field,
                                               long long address, int size, long long base) {
    long long const first = address + base;
    long long const last = first + size - 1;
    if (first >= 0 && last <= 65535) return static_cast<std::uint16_t>(first);
    table.refuse(address_field,
                 fmt::format("with the base {} it would take the registers {} to {}", base, first, last),
                 "0 to 65535");
    return std::nullopt;
}

std::vector<Field> read_measurement(Table const& table, MeasureWords const& words, Defaults const& defaults) {
    std::vector<std::string> known = format_fields();
    std::string const address_field = words.is_list ? "registers" : "register";
    for (auto const* const field : {"unit", "scale", "scale_register", "scale_kind", "scale_usual"})
        known.emplace_back(field);
    known.push_back(address_field);
    if (!words.usual_sign.empty()) known.emplace_back("sign");
    table.only(known);

    Field common = read_format(table, defaults.format);
    read_scaling(table, defaults, common);
    std::vector<std::string> units;
    units.reserve(words.units.size());
    for (auto const& unit : words.units) units.emplace_back(unit.word);
    auto const unit = table.word("unit", units).value_or(units.front());
    for (auto const& candidate : words.units) {
        if (candidate.word == unit) common.unit_factor = candidate.factor;
    }
    if (!words.usual_sign.empty()) {
        auto const sign =
            table.word("sign", {std::string(words.usual_sign), std::string(words.reversed_sign)});
        common.reversed = sign && *sign == words.reversed_sign;
    }
    std::vector<long long> addresses;
    tables::Range const in_table{.least = 0, .most = last_register};
    if (words.is_list) {
        addresses = table.wholes(address_field, in_table);
        if (addresses.size() > 3)
            table.refuse(address_field, "a meter has at most three phases", "1 to 3 addresses");
    } else if (auto const address = table.whole(address_field, in_table)) {
        addresses.push_back(*address);
    }
    if (!table.has(address_field))
        table.refuse(address_field, words_joined(words) + " has no address", "0 to 65535");
    std::vector<Field> fields;
    for (long long const address : addresses) {
        auto const placed =
            address_with_base(table, address_field, address, registers_of(common.type), defaults.base);
        fields.push_back(common);
        fields.back().address = placed.value_or(std::uint16_t{0});
    }
    refuse_overlap(table, fields);
    return fields;
}

std::optional<Field> read_single_field(Table const& table, Defaults const& defaults,
                                       std::vector<std::string> const& also) {
    std::vector<std::string> known = format_fields();
    known.emplace_back("register");
    for (auto& field : scaled_fields()) known.push_back(std::move(field));
    known.insert(known.end(), also.begin(), also.end());
    table.only(known);
    auto const address = table.whole("register", {.least = 0, .most = last_register});
    if (!table.has("register")) table.refuse("register", "the field is missing", "0 to 65535");
    Field field = read_format(table, defaults.format);
    read_scaling(table, defaults, field);
    if (!address) return std::nullopt;
    auto const placed =
        address_with_base(table, "register", *address, registers_of(field.type), defaults.base);
    field.address = placed.value_or(std::uint16_t{0});
    return field;
}

std::optional<TextField> read_text_field(Table const& table, Defaults const& defaults) {
    table.only({"register", "length", "function"});
    auto const address = table.whole("register", {.least = 0, .most = last_register});
    auto const length = table.whole("length", {.least = 1, .most = 125});
    for (auto const* const field : {"register", "length"}) {
        if (!table.has(field)) table.refuse(field, "the field is missing", "a whole number");
    }
    if (!address || !length) return std::nullopt;
    TextField text{.function = read_format(table, defaults.format).function};
    text.registers = static_cast<std::uint16_t>(*length);
    text.address = address_with_base(table, "register", *address, text.registers, defaults.base)
                       .value_or(std::uint16_t{0});
    return text;
}

}  // namespace phasewright::profile
