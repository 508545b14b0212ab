// A job's report as a value: what was planned, what each meter read, what that means. The print room draws it.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/diagnosis/verdict.hpp"
#include "core/plan/site.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::report {

struct PointSheet {
    plan::MeteringPoint point;
    std::optional<readings::ReadingSet> readings;   // empty when the meter could not be read
    std::optional<diagnosis::Verdict> verdict;
    std::vector<diagnosis::Finding> bus_findings;   // no answer, garbage, exception: the bus, not the wiring
    double reading_age_s = 0.0;
};

struct JobReport {
    plan::Site site;
    std::string made_at;    // ISO 8601 with offset; given by the caller
    std::string program;    // "phasewright 0.1.0"
    std::vector<PointSheet> sheets;
};

enum class PointState { done, doubtful, wrong, not_yet };
[[nodiscard]] std::string_view word_of(PointState state);  // "done", "doubtful", "wrong", "not yet"
[[nodiscard]] PointState state_of(PointSheet const& sheet);

// "L2 current is reversed." and "99.2 % sure": the two halves of a verdict line.
[[nodiscard]] std::string headline(PointSheet const& sheet);
[[nodiscard]] std::string certainty(PointSheet const& sheet);

// The line that stands at the foot of every sheet: how far the metering is proved, never that a panel is safe.
[[nodiscard]] std::string foot_line(PointSheet const& sheet);

struct Count {
    PointState state;
    int points = 0;
};
[[nodiscard]] std::vector<Count> counted(JobReport const& report);

}  // namespace phasewright::report
