// The header of an interval file: which column means what, and which of them are used.
#pragma once
#include <expected>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "app/commands/interval_file.hpp"

namespace phasewright::commands {

// Cells of one line of CSV, without quotation marks.
[[nodiscard]] std::vector<std::string> cells_of(std::string_view line);

// Where the numbers of one energy column come from: a mean power or an energy, perhaps one register minus
// another.
struct EnergySource {
    std::optional<std::size_t> plus, minus;  // places in the header
};

struct IntervalColumns {
    std::size_t count = 0;
    std::vector<std::string> names;
    std::size_t time = 0;
    std::optional<std::size_t> duration, load_lag;
    std::vector<EnergySource> watts;  // one an element, or one
    std::vector<EnergySource> vars;   // the same, or none
    std::vector<std::size_t> volts;   // one an element, or none
    bool totals = false;
    bool one_way = false;
    bool powers = false;
    bool kilo = false;  // of powers
    std::vector<std::string> unused;
};
[[nodiscard]] std::expected<IntervalColumns, quantity::Fault> columns_of(std::string_view header,
                                                                         std::string const& where,
                                                                         IntervalAsk const& ask);

}  // namespace phasewright::commands
