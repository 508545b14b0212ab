// The columns of a metering schedule (docs/reference/schedule.md): which field of a metering point each one carries, what
// people write above it, and in which unit.
#pragma once
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "core/plan/conductor_size.hpp"

namespace phasewright::commands {

enum class Column {
    id, name, panel, way, parent, installed, service, purpose, use, load, flow, breaker, least, usual, most, power_factor,
    accuracy, cables_per_phase, cable, cable_diameter, ct_ratio, ct_primary, ct_secondary, ct_output, ct_class, ct_model,
    ct_burden, lead_length, lead_size, tap_size, tap_fuse, meter, serial_number, supply, serial_line, gateway, host, port,
    unit, position,
};

enum class Content { text, number, ratio, size };

struct ColumnHead {
    Column column;
    std::string_view header;     // as it is written
    std::string_view unit;       // of a number, as it is written: "A"; empty: none
    Content content;
    std::string_view spellings;  // others that are read, between bars, in the form of plain_header()
};
[[nodiscard]] std::span<ColumnHead const> all_columns();  // in the order in which they are written
[[nodiscard]] ColumnHead const& head_of(Column column);
[[nodiscard]] std::string header_text(ColumnHead const& head);  // "breaker (A)"

// Small letters and single blanks; accents and umlauts spelt out; punctuation becomes a blank.
[[nodiscard]] std::string plain_header(std::string_view text);

// How much of the column's own unit one unit of the cell is; for sizes, which unit a bare number has.
struct Unit {
    double factor = 1.0;
    std::optional<plan::SizeUnit> size;
};
// "ft" for a length in m: 0.3048. Empty where the unit does not fit.
[[nodiscard]] std::optional<Unit> unit_of(std::string_view unit, ColumnHead const& head);

struct KnownHeader {
    Column column = Column::id;
    Unit unit;
};
[[nodiscard]] std::optional<KnownHeader> known_header(std::string_view text);  // "Breaker [A]", "Length ft"

// The two columns of a file of rows that were kept aside; they say nothing of the point.
inline constexpr std::string_view aside_cell = "phasewright: cell";
inline constexpr std::string_view aside_why = "phasewright: why";

}  // namespace phasewright::commands
