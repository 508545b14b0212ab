// Reading all meters of a plan over their own buses: all lines side by side, the meters of a line one after the other,
// and round after round, so that the snapshots of one meter lie apart in time while the others are being read. A meter that does not answer is a finding of its point;
// the rest goes on.
#pragma once
#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "app/commands/point_readings.hpp"
#include "bus/port/line.hpp"
#include "core/diagnosis/verdict.hpp"
#include "core/plan/site.hpp"

namespace phasewright::commands {

struct MeterRecord {
    std::shared_ptr<profile::Profile const> profile;  // null for a SunSpec meter
    std::vector<TimedReading> readings;
    std::vector<diagnosis::Finding> findings;
    double last_read_s = 0.0;  // on a clock that only moves forward
};

struct RoundsSettings {
    std::filesystem::path profiles_folder;
    int rounds = 1;
    double seconds_between = 1.0;
};

// Told before each meter, by one thread at a time: how many are behind us, how many there are in all rounds, and which one is next.
using RoundsProgress = std::function<void(std::size_t at, std::size_t of, plan::MeteringPoint const& point)>;

// One record a point, in the plan's order.
[[nodiscard]] std::vector<MeterRecord> read_all_meters(plan::Site const& site, RoundsSettings const& settings,
                                                       RoundsProgress const& progress);

[[nodiscard]] double steady_now_s();
[[nodiscard]] std::string iso_now();  // local time with its offset

}  // namespace phasewright::commands
