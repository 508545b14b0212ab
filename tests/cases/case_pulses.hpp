// What a case expects of pulses and a clock: "pulse 0.625 Wh of 1600 imp/kWh within 1e-9", "pulses 86400 W of
// 10 in 30 s at Kh 1.8 Wh TF 40 within 1e-6", "pulse time 22.5 s at Kh 0.625 Wh TF 1 and 100 W within 1e-9".
#pragma once
#include <optional>
#include <string>

#include "tests/cases/case_file.hpp"

namespace phasewright::cases {

// `words` stands behind the first word, "pulse" or "pulses". What came instead of what was expected; empty:
// as expected.
[[nodiscard]] std::optional<std::string> wrong_pulse(Words& words);
[[nodiscard]] std::optional<std::string> wrong_pulses(Words& words);

}  // namespace phasewright::cases
