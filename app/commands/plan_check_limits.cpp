#include "app/commands/plan_check_limits.hpp"

#include "app/commands/plan_entries.hpp"
#include "bus/tables/table.hpp"
#include "core/checks/rule.hpp"

namespace phasewright::commands {

namespace {
using tables::Table;

std::vector<std::string> rule_ids() {
    std::vector<std::string> ids;
    for (auto const& subject : checks::subjects())
        for (auto const& rule : subject.rules) ids.emplace_back(rule.id);
    return ids;
}

checks::SetLimit read_limit(Table const& table, checks::Rule const& rule) {
    table.only({"limit", "standard", "edition", "clause", "confirmed"});
    checks::SetLimit set;
    if (table.has("limit") && !rule.limit)
        table.refuse("limit", "this rule has no number of its own", "no such field here",
                     "docs/reference/plan-checks.md says which rules have one");
    set.value = table.number("limit", not_negative);
    set.standard = table.text("standard").value_or("");
    set.edition = table.text("edition").value_or("");
    set.clause = table.text("clause").value_or("");
    set.confirmed = table.flag("confirmed").value_or(false);
    if (set.confirmed && set.edition.empty())
        table.refuse("confirmed", "a limit is confirmed for an edition, and none is named",
                     "edition = \"2023\" beside it");
    return set;
}

void read_ampacities(Table const& root, checks::Limits& limits) {
    Places sizes{"the size has been used before"};
    for (auto const& table : root.tables("ampacity")) {
        table.only({"size", "amperes"});
        if (!table.has("size"))
            table.refuse("size", "the field is missing", R"(a size: "2.5 mm2", "12 AWG")");
        auto const size = read_size(table, "size");
        double const amperes = table.needed_number("amperes", positive);
        if (!size) continue;
        sizes.take(table, "size", plan::text_of(*size), "each size once");
        (size->unit == plan::SizeUnit::mm2 ? limits.metric : limits.awg).push_back({*size, amperes});
    }
}
}  // namespace

std::expected<checks::Limits, quantity::Fault> read_check_limits(std::string_view text,
                                                                 std::string const& file) {
    auto const root = Table::parse(text, file);
    if (!root) return std::unexpected(root.error());
    root->only({"rule", "ampacity"});
    checks::Limits limits;
    if (auto const rules = root->table("rule")) {
        rules->only(rule_ids());
        for (auto const& id : rules->fields()) {
            auto const* const rule = checks::rule_named(id);
            auto const table = rules->table(id);
            if (rule != nullptr && table) limits.of_rule.emplace(id, read_limit(*table, *rule));
        }
    }
    read_ampacities(*root, limits);
    if (auto const fault = root->fault()) return std::unexpected(*fault);
    return limits;
}

}  // namespace phasewright::commands
