// The versions of the plan, drawn from the entries that hold them (docs/reference/records.md, "The plan and
// its history"). Undo takes nothing away: it is a new version with an older text.
#pragma once
#include <expected>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/quantity/fault.hpp"
#include "records/schema/chain.hpp"

namespace phasewright::schema {

enum class PlanAction { change, undo, redo, merge };
[[nodiscard]] std::string_view name_of(PlanAction action);

struct PlanVersion {
    Hash entry{};
    std::string device;
    std::uint64_t number = 0;
    std::string time;
    std::string by;
    std::string why;
    PlanAction action = PlanAction::change;
    std::vector<Hash> after;
    Hash text{};  // of the blob
    std::uint64_t size = 0;
};

struct PlanHistory {
    std::vector<PlanVersion> all;    // in the order of showing
    std::vector<Hash> latest;        // versions that no other follows, by hash; more than one: a conflict
    std::vector<PlanVersion> line;   // from the first to the latest; empty in a conflict
    std::vector<Hash> done, undone;  // texts: the pile, its top last, and what an undo laid aside
    std::vector<Break> wrong;
};

[[nodiscard]] PlanHistory plan_history(std::span<Kept const> entries);
[[nodiscard]] inline std::vector<Break> wrong_versions(PlanHistory const& history) { return history.wrong; }

[[nodiscard]] PlanVersion const* version_of(PlanHistory const& history, Hash const& entry);

// The next version, but for its time and who. A fault when there is nothing to undo, or copies were changed
// apart.
struct NextVersion {
    PlanAction action = PlanAction::change;
    std::vector<Hash> after;
    Hash text{};
};
[[nodiscard]] std::expected<NextVersion, quantity::Fault> changed_to(PlanHistory const& history,
                                                                     Hash const& text);
[[nodiscard]] std::expected<NextVersion, quantity::Fault> undone(PlanHistory const& history);
[[nodiscard]] std::expected<NextVersion, quantity::Fault> redone(PlanHistory const& history);
// A person's answer to a conflict of two.
[[nodiscard]] std::expected<NextVersion, quantity::Fault> settled(PlanHistory const& history,
                                                                  Hash const& text);

[[nodiscard]] Draft draft_of(NextVersion const& next, std::uint64_t size, std::string time, std::string by,
                             std::string why);

}  // namespace phasewright::schema
