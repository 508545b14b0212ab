#include "app/commands/evidence_tests.hpp"
#include "app/commands/plan_entries.hpp"
#include "core/evidence/exchange.hpp"
#include "core/evidence/point_state.hpp"
#include "core/readings/check.hpp"

namespace phasewright::commands {

namespace {
using quantity::Fault;
using tables::Table;

// A day, or a time with its offset: what decides whether a signature is older than a test must be readable.
std::string read_moment(Table const& table, std::string_view field) {
    auto text = table.needed_text(field);
    auto const whole = text.size() == 10 ? text + "T00:00:00Z" : text;
    if (!text.empty() && !readings::seconds_of(whole))
        table.refuse(field, "this is no time", "2026-11-25, or 2026-11-25T10:20:00+01:00");
    return text;
}

template <class Enum>
Enum needed(Table const& table, std::string_view field) {
    if (!table.has(field))
        table.refuse(field, "the field is missing", quantity::joined(plan::words_for<Enum>(), ", "));
    return read_word<Enum>(table, field).value_or(Enum{});
}

evidence::PointEvidence read_evidence(Table const& root) {
    evidence::PointEvidence all{.point = root.needed_text("point")};
    if (root.has("needed_of_transformers")) all.needed_of_transformers = root.texts("needed_of_transformers");
    if (root.has("needed_of_meter")) all.needed_of_meter = root.texts("needed_of_meter");
    for (auto const& table : root.tables("test")) {
        table.only({"side", "what", "outcome", "time", "by", "note"});
        all.tests.push_back({needed<evidence::Party>(table, "side"), table.needed_text("what"),
                             needed<evidence::Outcome>(table, "outcome"), read_moment(table, "time"),
                             table.needed_text("by"), table.text("note").value_or("")});
    }
    for (auto const& table : root.tables("signature")) {
        table.only({"side", "who", "licence", "time"});
        all.signatures.push_back({needed<evidence::Party>(table, "side"), table.needed_text("who"),
                                  table.text("licence").value_or(""), read_moment(table, "time")});
    }
    Places ids;
    for (auto const& table : root.tables("defect")) {
        table.only({"id", "what", "severity", "found_by", "found_at", "closed_by", "closed_at"});
        evidence::Defect defect{.id = table.needed_text("id"), .what = table.needed_text("what")};
        ids.take(table, "id", defect.id);
        defect.severity = needed<evidence::DefectSeverity>(table, "severity");
        defect.found_by = table.needed_text("found_by");
        defect.found_at = read_moment(table, "found_at");
        if (table.has("closed_by") != table.has("closed_at"))
            table.refuse("closed_by", "a defect is closed by somebody, at a time", "both, or neither");
        if (table.has("closed_by")) {
            defect.closed_by = table.needed_text("closed_by");
            defect.closed_at = read_moment(table, "closed_at");
        }
        all.defects.push_back(std::move(defect));
    }
    return all;
}

std::vector<evidence::Seal> read_seals(Table const& root) {
    std::vector<evidence::Seal> seals;
    for (auto const& table : root.tables("seal")) {
        table.only({"place", "number", "state", "time", "by"});
        evidence::Seal seal{.place = table.needed_text("place"), .number = table.text("number").value_or("")};
        seal.state = needed<evidence::SealState>(table, "state");
        seal.time = table.text("time").value_or("");
        seal.by = table.text("by").value_or("");
        if (seal.number.empty() && seal.state != evidence::SealState::found_missing)
            table.refuse("number", "a seal has a number", "as it is stamped");
        seals.push_back(std::move(seal));
    }
    return seals;
}

AnswerItem side_item(std::string const& name, evidence::Side const& side) {
    AnswerItem item{.name = name};
    bool const done = side.state == evidence::SideState::signed_;
    item.outcome = done                   ? evidence::Outcome::pass
                   : !side.failed.empty() ? evidence::Outcome::fail
                                          : evidence::Outcome::not_provable;
    item.reason = std::string{plan::name_of(side.state)};
    return item;
}
}  // namespace

std::expected<EvidenceAnswer, Fault> state_answer(EvidenceFile const& file) {
    auto const root = Table::parse(file.text, file.file.string());
    if (!root) return std::unexpected(root.error());
    root->only({"point", "needed_of_transformers", "needed_of_meter", "test", "signature", "defect", "seal"});
    auto const evidence = read_evidence(*root);
    auto const seals = read_seals(*root);
    if (auto const fault = root->fault()) return std::unexpected(*fault);
    auto const state = evidence::state_of(evidence);
    EvidenceAnswer answer;
    answer.items.push_back(side_item("transformer-side", state.transformers));
    answer.items.push_back(side_item("meter-side", state.meter));
    for (auto const& finding : evidence::seal_findings(seals))
        answer.items.back().notes.push_back("seals: " + finding);
    for (auto const& seal : evidence::seals_now(seals))
        answer.items.back().notes.push_back("seal on: " + seal.place + " " + seal.number);
    answer.items.front().stop = state.stop;
    if (!state.proved) answer.items.front().notes.emplace_back("the point is not proved");
    answer.sentence = state.sentence;
    return answer;
}

}  // namespace phasewright::commands
