#include <algorithm>
#include <map>

#include "app/commands/evidence_tests.hpp"
#include "app/commands/plan_entries.hpp"
#include "app/commands/plan_file.hpp"
#include "app/commands/reading_lines.hpp"
#include "app/commands/whole_file.hpp"
#include "core/evidence/switching.hpp"

namespace phasewright::commands {

namespace {
using evidence::SwitchedMeter;
using evidence::SwitchedReadings;
using evidence::SwitchingStep;
using evidence::TestKind;
using quantity::Fault;
using tables::Table;
using Powers = std::map<std::string, std::vector<double>>;  // W, by meter

std::optional<double> total_w(readings::Snapshot const& snapshot) {
    if (snapshot.p_total) return snapshot.p_total;
    if (snapshot.p.empty()) return std::nullopt;
    double sum = 0.0;
    for (auto const& one : snapshot.p) {
        if (!one) return std::nullopt;
        sum += *one;
    }
    return sum;
}

// Reading sets, one a line; a meter that shows no power is left out.
std::expected<Powers, Fault> read_sets(std::filesystem::path const& file) {
    auto const text = text_of(file, "the readings");
    if (!text) return std::unexpected(text.error());
    Powers powers;
    std::size_t at = 0;
    for (std::size_t line = 1; at < text->size(); ++line) {
        auto const end = std::min(text->find('\n', at), text->size());
        auto const row = std::string_view{*text}.substr(at, end - at);
        at = end + 1;
        if (row.find_first_not_of(" \t\r") == std::string_view::npos) continue;
        auto const read = read_line(row);
        if (!read) {
            auto fault = read.error().fault;
            fault.where = file.string() + ":" + std::to_string(line) + " " + fault.where;
            return std::unexpected(fault);
        }
        for (auto const& snapshot : read->set.snapshots)
            if (auto const watts = total_w(snapshot)) powers[read->set.id].push_back(*watts);
    }
    return powers;
}

std::expected<void, Fault> read_from_files(Table const& table, EvidenceFile const& file,
                                           SwitchingStep& step) {
    std::map<std::string, SwitchedReadings> all;
    for (auto const& [field, into] :
         {std::pair{"before", &SwitchedReadings::before_w}, std::pair{"during", &SwitchedReadings::during_w},
          std::pair{"after", &SwitchedReadings::after_w}}) {
        auto const name =
            std::string_view{field} == "after" ? table.text(field).value_or("") : table.needed_text(field);
        if (name.empty()) continue;
        auto const sets = read_sets(file.file.parent_path() / name);
        if (!sets) return std::unexpected(sets.error());
        for (auto const& [meter, watts] : *sets) {
            auto& one = all[meter];
            one.meter = meter;
            one.*into = watts;
        }
    }
    for (auto& [meter, one] : all)  // a meter that was not read both times says nothing
        if (!one.before_w.empty() && !one.during_w.empty()) step.readings.push_back(std::move(one));
    return {};
}

std::expected<SwitchingStep, Fault> read_step(Table const& table, EvidenceFile const& file) {
    table.only({"circuit", "before", "during", "after", "reading"});
    SwitchingStep step{.circuit = table.needed_text("circuit"), .readings = {}};
    if (table.has("reading") == table.has("before"))
        table.refuse("before", "a step has files of readings or readings by hand",
                     "before and during, or [[step.reading]]");
    for (auto const& one : table.tables("reading")) {
        one.only({"meter", "before", "during", "after"});
        SwitchedReadings readings{.meter = one.needed_text("meter"),
                                  .before_w = one.any_numbers("before"),
                                  .during_w = one.any_numbers("during"),
                                  .after_w = one.any_numbers("after")};
        if (readings.before_w.empty() || readings.during_w.empty())
            one.refuse("before", "readings before and during are needed", "lists of W");
        step.readings.push_back(std::move(readings));
    }
    if (table.has("before"))
        if (auto const read = read_from_files(table, file, step); !read) return std::unexpected(read.error());
    return step;
}

std::expected<std::vector<SwitchedMeter>, Fault> meters_of(Table const& root, EvidenceFile const& file) {
    std::vector<SwitchedMeter> meters;
    if (root.has("plan") == root.has("meter"))
        root.refuse("plan", "the meters come from a plan or from the file itself", "plan, or [[meter]]");
    if (auto const name = root.text("plan")) {
        auto const plan_file = file.file.parent_path() / *name;
        auto const text = text_of(plan_file, "the plan");
        if (!text) return std::unexpected(text.error());
        auto const site = read_draft(*text, plan_file.string());
        if (!site) return std::unexpected(site.error());
        for (auto const& point : site->points)
            if (point.installed) meters.push_back({point.id, point.parent, point.panel, true});
    }
    Places ids;
    for (auto const& one : root.tables("meter")) {
        one.only({"id", "parent", "panel"});
        meters.push_back(
            {read_id(one), one.text("parent").value_or(""), one.text("panel").value_or(""), true});
        ids.take(one, "id", meters.back().id);
    }
    if (root.has("must_not_stop"))
        for (auto const& id : root.texts("must_not_stop")) {
            auto const found = std::ranges::find(meters, id, &SwitchedMeter::id);
            if (found == meters.end())
                root.refuse("must_not_stop", "no meter has this id: \"" + id + "\"", "an id of a meter");
            else
                found->may_switch = false;
        }
    return meters;
}

std::string percent(double p) {
    return p > 0.9995 ? "more than 99.9 %" : quantity::fixed(100.0 * p, 1) + " %";
}

std::string words_of(evidence::Follows const& follows) {
    auto text = "circuit of " + follows.circuit + ": " +
                (follows.meter ? "meter of " + *follows.meter : std::string{"none of the meters"}) + ", " +
                percent(follows.probability) +
                (follows.tested ? follows.seen ? ", tested" : ", tested without result" : ", inferred");
    for (auto const& [meter, p] : follows.others) text += "; " + meter + " " + percent(p);
    return text;
}

AnswerItem item_of_result(evidence::SwitchingResult const& result) {
    AnswerItem item{.test = TestKind::switching, .outcome = result.outcome, .reason = result.reason};
    for (auto const& step : result.steps) {
        auto text = step.circuit + " off: " +
                    (step.meter.empty()
                         ? std::string{"no meter fell to nothing"}
                         : "meter of " + step.meter + " fell by " + quantity::fixed(step.fell_w, 0) + " W");
        if (step.parent_agrees)
            text += std::string{", the meter above "} + (*step.parent_agrees ? "agrees" : "does not agree") +
                    " (" + quantity::fixed(*step.parent_fell_w, 0) + " W)";
        item.notes.push_back(text);
        if (!step.odd.empty())
            item.notes.push_back("also moved, and is not explained: " + quantity::joined(step.odd, ", "));
    }
    for (auto const& follows : result.circuits)
        if (follows.tested || !follows.as_planned) item.notes.push_back(words_of(follows));
    for (auto const& [circuit, meter] : result.interchanged)
        item.notes.push_back(
            meter.empty() ? "circuit of " + circuit + " is not counted by any of these meters"
                          : "do: move the CT set of the meter of " + meter + " off the circuit of " +
                                circuit + ", or give the meters each other's names; then switch both again");
    item.notes.push_back(result.next ? "switch next: " + *result.next + " (" + result.why_next + ")"
                                     : "nothing more is to be switched");
    return item;
}
}  // namespace

std::expected<EvidenceAnswer, Fault> switching_answer(EvidenceFile const& file) {
    auto const root = Table::parse(file.text, file.file.string());
    if (!root) return std::unexpected(root.error());
    root->only({"plan", "meter", "must_not_stop", "step"});
    auto const meters = meters_of(*root, file);
    if (!meters) return std::unexpected(meters.error());
    std::vector<SwitchingStep> steps;
    for (auto const& table : root->tables("step")) {
        auto step = read_step(table, file);
        if (!step) return std::unexpected(step.error());
        steps.push_back(std::move(*step));
    }
    if (auto const fault = root->fault()) return std::unexpected(*fault);
    auto const result = evidence::switched(*meters, steps);
    if (!result) return std::unexpected(in_file(result.error(), file.file));
    return EvidenceAnswer{{item_of_result(*result)}, {}};
}

}  // namespace phasewright::commands
