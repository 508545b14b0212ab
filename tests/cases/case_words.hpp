// What the statements `plan`, `wiring` and `load` mean: a service with its model, a wiring, true line
// currents.
#pragma once
#include <expected>
#include <optional>
#include <string>
#include <string_view>

#include "core/plan/service.hpp"
#include "core/readings/reading_set.hpp"
#include "core/wiring/wiring.hpp"

namespace phasewright::cases {

struct Plan {
    readings::ReadingSet set;  // without snapshots
    plan::ServiceModel model;
    plan::Sequence sequence = plan::Sequence::abc;  // at the source
    plan::SourcePhasors source{};
};

// The error is what was wanted instead.
[[nodiscard]] std::expected<Plan, std::string> read_plan(std::string_view rest);
[[nodiscard]] std::expected<wiring::Wiring, std::string> read_wiring(std::string_view rest,
                                                                     plan::ServiceModel const& model);
[[nodiscard]] std::expected<wiring::Currents, std::string> read_load(std::string_view rest, Plan const& plan);
[[nodiscard]] std::expected<readings::Snapshot, std::string> read_readings(std::string_view rest,
                                                                           std::size_t elements);

// The snapshot that a meter so wired shows of a load; `fields` are the words of a `readings as wired`
// statement.
[[nodiscard]] std::expected<readings::Snapshot, std::string> snapshot_as_wired(std::string_view fields,
                                                                               Plan const& plan,
                                                                               wiring::Wiring const& wiring,
                                                                               wiring::Currents const& load);

}  // namespace phasewright::cases
