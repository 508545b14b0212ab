// One metering point on one sheet: the sentence, the drawings, the numbers, what to move and what to measure
// next.
#pragma once
#include <string>

#include "core/report/job_report.hpp"

namespace phasewright::sheet {

// `at` is the point's place in the report; its sheet carries the number at + 2, after the sheet of the whole
// job.
[[nodiscard]] std::string point_page(report::JobReport const& report, std::size_t at);

}  // namespace phasewright::sheet
