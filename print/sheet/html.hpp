// A job's report as one HTML file that needs nothing else: no script, no font, no picture from anywhere. It
// reads on a laptop and on a phone, light and dark, and prints on A4 and Letter in black ink, one sheet a
// metering point.
#pragma once
#include <string>

#include "core/report/job_report.hpp"

namespace phasewright::sheet {

[[nodiscard]] std::string html_of(report::JobReport const& report);

}  // namespace phasewright::sheet
