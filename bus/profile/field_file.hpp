// Reads the description of one number from a profile: docs/reference/profile.md, "[measurements.NAME]" and
// "[settings.NAME]".
#pragma once
#include <string>
#include <vector>

#include "bus/profile/measure_words.hpp"
#include "bus/tables/table.hpp"

namespace phasewright::profile {

struct Defaults {  // the profile's own, for every field that does not say otherwise
    long long base = 0;
    Field format;  // function, type, orders, not_available
};

[[nodiscard]] Defaults read_defaults(tables::Table const& root);
[[nodiscard]] std::vector<std::string> format_fields();  // their names, for Table::only
// function, type and orders of one table, where they differ from the usual.
[[nodiscard]] Field read_format(tables::Table const& table, Field const& usual);
[[nodiscard]] std::vector<std::string> scaled_fields();  // scale, scale_register, scale_kind, scale_usual
void read_scaling(tables::Table const& table, Defaults const& defaults, Field& field);
[[nodiscard]] std::uint64_t all_bits_of(ValueType type);
// The numbers of one table must not share a register.
void refuse_overlap(tables::Table const& table, std::vector<Field> const& fields);
inline constexpr double last_register = 65535;

// `address_field` is "register" or "registers". An address that falls outside the table is refused.
[[nodiscard]] std::optional<std::uint16_t> address_with_base(tables::Table const& table,
                                                             std::string_view address_field,
                                                             long long address, int size, long long base);

[[nodiscard]] std::vector<Field> read_measurement(tables::Table const& table, MeasureWords const& words,
                                                  Defaults const& defaults);
// `also` may stand in the same table; the caller reads it.
[[nodiscard]] std::optional<Field> read_single_field(tables::Table const& table, Defaults const& defaults,
                                                     std::vector<std::string> const& also = {});
[[nodiscard]] std::optional<TextField> read_text_field(tables::Table const& table, Defaults const& defaults);

}  // namespace phasewright::profile
