// Interval data as people export it: a CSV file with a header that names every column and its unit
// (docs/reference/restate.md, "The file"). Times carry their offset, so the hour that happens twice when
// clocks go back is two hours here as well. Nothing is guessed: an unknown column, a time twice, a cell that
// is no number refuse the file with line, column, what was found and what may stand there. Gaps are reported
// and left empty.
#pragma once
#include <expected>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/correction/interval_data.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

struct IntervalAsk {
    std::size_t elements = 3;
    correction::RegisterKind kind = correction::RegisterKind::net;
    std::optional<double> interval_s;  // where the file has no duration_s
};

struct IntervalGap {
    std::string after, before;  // times as written
    double missing_s = 0.0;
};

struct IntervalFile {
    correction::IntervalData data;
    std::string header;
    std::vector<std::string> lines;                // every row as it stood
    std::vector<std::optional<std::size_t>> rows;  // of each line: its row in `data`; none: not measured
    std::vector<std::string> times;                // of each line, as written
    double interval_s = 0.0;                       // of most rows
    bool interval_inferred = false;
    double end_s = 0.0;  // end of the last interval
    std::vector<IntervalGap> gaps;
    std::optional<double> limit_days;
    std::vector<std::string> unused;  // known columns that were not used
    // How the file speaks of energies, for the corrected columns beside them: "p1_w" or "kwh1".
    bool powers = false;
    double watts_a_unit = 1.0;  // 1000 for kW; energies are always kWh
    [[nodiscard]] std::string name_of(bool vars, std::optional<std::size_t> element) const;
    [[nodiscard]] std::size_t not_measured() const { return lines.size() - data.rows(); }
};

// `file` is only the name that faults carry.
[[nodiscard]] std::expected<IntervalFile, quantity::Fault> read_intervals(std::string_view text,
                                                                          std::string const& file,
                                                                          IntervalAsk const& ask);

// The rows as they stood with further cells behind them; `more` has one text a line, `more_header` begins no
// comma.
[[nodiscard]] std::string with_columns(IntervalFile const& file, std::string const& more_header,
                                       std::vector<std::string> const& more);

}  // namespace phasewright::commands
