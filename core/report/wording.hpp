// Small words of a report: percentages, powers, sentences.
#pragma once
#include <string>
#include <string_view>

namespace phasewright::report {

// "99.2 %". A probability is never written as 100 % or 0 %: "more than 99.9 %", "below 0.1 %".
[[nodiscard]] std::string percent(double probability);

// Three significant figures and the unit that suits them: "26.3 kW", "940 W"; `unit` is "W" or "var".
[[nodiscard]] std::string power_words(double value, std::string_view unit);

// First letter large, a full stop at the end where no mark stands there yet.
[[nodiscard]] std::string sentence(std::string_view words);

// A full stop at the end where no mark stands there yet.
[[nodiscard]] std::string closed(std::string_view words);

// The same words to go on with after a colon: without the mark at the end.
[[nodiscard]] std::string clause(std::string_view words);

// "2026-11-25T09:27:06+00:00" as a person writes it: "2026-11-25 09:27 +00:00".
[[nodiscard]] std::string date_words(std::string_view iso);

}  // namespace phasewright::report
