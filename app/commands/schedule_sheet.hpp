// The metering schedule of a plan as a sheet (docs/reference/schedule.md): a row a point, a column for every field that any
// point has, and the columns of somebody's own behind them.
#pragma once
#include "core/plan/site.hpp"
#include "print/workbook/grid.hpp"

namespace phasewright::commands {

[[nodiscard]] workbook::Sheet schedule_of(plan::Site const& site);

}  // namespace phasewright::commands
