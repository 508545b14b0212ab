// Rows of a schedule become metering points (docs/reference/schedule.md). A row that cannot be understood is kept aside
// with the cell and the reason; the others come in.
#pragma once
#include <expected>
#include <optional>
#include <string>
#include <vector>

#include "app/commands/schedule_values.hpp"
#include "core/plan/site.hpp"
#include "core/quantity/fault.hpp"
#include "print/workbook/grid.hpp"

namespace phasewright::commands {

struct ScheduleColumn {
    std::optional<KnownHeader> known;
    std::string header;  // as it stands there; "column D" where nothing does
    bool is_ours = false;  // a column of a file of rows kept aside
};
struct ScheduleLayout {
    std::size_t header_row = 0;
    std::vector<ScheduleColumn> columns;
    DecimalSign sign = DecimalSign::unknown;
    [[nodiscard]] std::optional<std::size_t> place_of(Column column) const;
};
// Empty: no row among the first knows two columns or more. A fault: two columns say the same.
[[nodiscard]] std::expected<std::optional<ScheduleLayout>, quantity::Fault> layout_of(workbook::Sheet const& sheet,
                                                                                      std::string const& file);

struct RowTrouble {
    std::size_t row = 0;
    std::size_t column = 0;
    std::string what;
    std::string found;
};

struct ImportRules {
    std::string plan_file;          // the name that regions are looked for beside
    std::string panel;              // for rows that name none
    bool may_add = true;            // panels and serial lines that the plan does not have
    std::optional<plan::Nominal> nominal;  // of panels that are added
};

struct Imported {
    plan::Site site;
    std::vector<RowTrouble> aside;  // in the order of the rows
    std::size_t added = 0;
    std::size_t changed = 0;
};
[[nodiscard]] Imported import_rows(plan::Site base, workbook::Sheet const& sheet, ScheduleLayout const& layout,
                                   ImportRules const& rules);

// One row onto a point; `base` is what panels, lines and supplies are looked up in, and added to.
[[nodiscard]] std::optional<RowTrouble> apply_row(plan::MeteringPoint& point, plan::Site& base, workbook::Row const& row,
                                                  ScheduleLayout const& layout, ImportRules const& rules);

}  // namespace phasewright::commands
