// Reads the description of one number from a profile: docs/reference/profile.md, "[measurements.NAME]" and
// "Tables of single fields".
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

// `address_field` is "register" or "registers". An address that falls outside the table is refused.
[[nodiscard]] std::optional<std::uint16_t> address_with_base(tables::Table const& table,
                                                             std::string_view address_field,
                                                             long long address, int size, long long base);

[[nodiscard]] std::vector<Field> read_measurement(tables::Table const& table, MeasureWords const& words,
                                                  Defaults const& defaults);
[[nodiscard]] std::optional<Field> read_single_field(tables::Table const& table, Defaults const& defaults);
[[nodiscard]] std::optional<TextField> read_text_field(tables::Table const& table, Defaults const& defaults);

}  // namespace phasewright::profile
