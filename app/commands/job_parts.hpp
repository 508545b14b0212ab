// What the commands on a job share.
#pragma once
#include <expected>
#include <iosfwd>
#include <memory>
#include <string>

#include "app/commands/job_command.hpp"
#include "core/quantity/fault.hpp"
#include "records/store/job.hpp"

namespace phasewright::commands {

inline constexpr int job_not_done = 2;

[[nodiscard]] std::expected<std::unique_ptr<store::Store>, quantity::Fault> job_in(JobOptions const& options);
[[nodiscard]] std::expected<store::DeviceKey, quantity::Fault> device_in(JobOptions const& options);
[[nodiscard]] store::Said said_in(JobOptions const& options);
[[nodiscard]] int refused(quantity::Fault const& fault, std::ostream& err);
// "4f3a9c01d2e8b7a6": enough of a hash to find it by.
[[nodiscard]] std::string short_hash(schema::Hash const& hash);
// Text of others on a line of a terminal: what would move its cursor is escaped.
[[nodiscard]] std::string on_a_line(std::string_view text);
// A plan that reads, as the plan writer gives it: the same plan is the same bytes.
[[nodiscard]] std::expected<std::string, quantity::Fault> canonical_plan(std::filesystem::path const& file);

}  // namespace phasewright::commands
