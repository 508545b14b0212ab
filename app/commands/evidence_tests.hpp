// The files of the evidence commands: a small TOML text in, an answer out. docs/tasks/prove-a-point.md has
// the formats.
#pragma once
#include <expected>
#include <filesystem>
#include <string>

#include "app/commands/evidence_answer.hpp"
#include "bus/tables/table.hpp"
#include "core/evidence/instrument.hpp"
#include "core/plan/meter_hardware.hpp"
#include "core/plan/metering_point.hpp"
#include "core/quantity/fault.hpp"

namespace phasewright::commands {

// The point that a test of a dead circuit is made at, where a plan was named.
struct TestedPoint {
    plan::MeteringPoint point;
    std::optional<plan::CurrentInput> input;  // of its meter
    std::optional<bool> meter_earths;
};

struct EvidenceFile {
    std::string text;
    std::filesystem::path file;
    evidence::AcceptanceLimits limits;
    std::optional<TestedPoint> point;
};

using EvidenceReader = std::expected<EvidenceAnswer, quantity::Fault> (*)(EvidenceFile const&);

[[nodiscard]] std::expected<EvidenceAnswer, quantity::Fault> timing_answer(EvidenceFile const& file);
[[nodiscard]] std::expected<EvidenceAnswer, quantity::Fault> comparison_answer(EvidenceFile const& file);
[[nodiscard]] std::expected<EvidenceAnswer, quantity::Fault> before_power_answer(EvidenceFile const& file);
[[nodiscard]] std::expected<EvidenceAnswer, quantity::Fault> ratio_answer(EvidenceFile const& file);
[[nodiscard]] std::expected<EvidenceAnswer, quantity::Fault> registers_answer(EvidenceFile const& file);
[[nodiscard]] std::expected<EvidenceAnswer, quantity::Fault> switching_answer(EvidenceFile const& file);
[[nodiscard]] std::expected<EvidenceAnswer, quantity::Fault> state_answer(EvidenceFile const& file);

// --- what several of them read ---

[[nodiscard]] evidence::Accuracy read_accuracy(tables::Table const& table);
[[nodiscard]] evidence::Instrument read_instrument(tables::Table const& table);
[[nodiscard]] std::vector<std::string> with_accuracy(std::vector<std::string> fields);  // for Table::only
// The limit that the table names in `limit`, or the usual one.
[[nodiscard]] evidence::AcceptanceLimit limit_of(tables::Table const& table,
                                                 evidence::AcceptanceLimits const& limits,
                                                 std::string const& usual);
[[nodiscard]] AnswerItem item_of(evidence::TestKind test, evidence::Judgement judgement,
                                 std::string name = {});
[[nodiscard]] quantity::Fault in_file(quantity::Fault fault, std::filesystem::path const& file);

}  // namespace phasewright::commands
