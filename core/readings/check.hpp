// Readings that cannot be what they say they are: a unit, a side or a clock is wrong, so no verdict could be
// trusted. A wiring mistake can make watts any size between minus and plus V times I; none can make them
// forty times V I, nor a thousandth of it on every element at once. Only such evidence within the set itself
// refuses it; what is merely unlikely is left to the verdict (docs/reference/readings.md, "A line that cannot
// be used").
#pragma once
#include <optional>
#include <string_view>

#include "core/quantity/fault.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::readings {

// The fault's `where` is the path of the field: "snapshots[0].p".
[[nodiscard]] std::optional<quantity::Fault> check(ReadingSet const& set);

// Seconds since 1970 of an ISO 8601 time: "2026-05-20T10:00:00+02:00", "...Z". A time without an offset
// counts as UTC, which compares right with others of its kind. Nothing when the text is not a time.
[[nodiscard]] std::optional<double> seconds_of(std::string_view iso_time);

}  // namespace phasewright::readings
