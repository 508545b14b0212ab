// The digest in the title block tells two prints apart and a changed sheet from the one that was handed over.
// It is SHA-256 (FIPS 180-4) of the sheet's canonical text. Every number is rounded to what a meter can show
// before it is written, so the last bits of a calculation, which differ between compilers, do not reach it.
#pragma once
#include <string>
#include <string_view>

#include "core/report/job_report.hpp"

namespace phasewright::report {

[[nodiscard]] std::string sha256_hex(std::string_view bytes);

[[nodiscard]] std::string canonical_text(JobReport const& report, PointSheet const& sheet);
[[nodiscard]] std::string digest_of(JobReport const& report, PointSheet const& sheet);
[[nodiscard]] std::string digest_of(JobReport const& report);  // of the whole job

}  // namespace phasewright::report
