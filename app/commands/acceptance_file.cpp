#include "app/commands/acceptance_file.hpp"

#include "app/commands/plan_entries.hpp"
#include "bus/tables/table.hpp"

namespace phasewright::commands {

namespace {
using evidence::AcceptanceLimit;
using evidence::AcceptanceLimits;
using tables::Table;

void read_limit(Table const& table, std::string const& id, AcceptanceLimits& limits) {
    table.only({"what", "unit", "low", "high", "standard", "edition", "clause", "confirmed"});
    auto const* const built_in = limits.find(id);
    AcceptanceLimit limit = built_in == nullptr ? AcceptanceLimit{.id = id} : *built_in;
    auto const text = [&](std::string_view field, std::string& into) {
        if (auto const value = table.text(field)) into = *value;
    };
    text("what", limit.what);
    text("unit", limit.unit);
    if (table.has("low") || table.has("high")) {  // a new pair, or one new side
        limit.low = table.number("low");
        limit.high = table.number("high");
    }
    text("standard", limit.source.standard);
    text("edition", limit.source.edition);
    text("clause", limit.source.clause);
    limit.source.confirmed = table.flag("confirmed").value_or(false);
    if (!limit.low && !limit.high) table.refuse("low", "a limit needs a side", "low, high or both");
    if (limit.low && limit.high && *limit.low > *limit.high)
        table.refuse("low", "the lower limit lies above the upper one",
                     "at most " + quantity::shortest(*limit.high));
    if (limit.source.standard.empty())
        table.refuse("standard", "nothing says where the limit stands written",
                     "a standard, rule or contract");
    if (limit.source.confirmed && table.text("edition").value_or("").empty())
        table.refuse("confirmed", "a limit is confirmed for an edition, and none is named",
                     "edition = \"2022\" beside it");
    limits.set(std::move(limit));
}

constexpr auto head = R"(# Acceptance limits: what a test's result is held against

`phasewright evidence limits` wrote this page from the table in the program; a test compares the two. How a result is
judged: [evidence](../physics/evidence.md). How to test: [prove a point](../tasks/prove-a-point.md).

Every limit says where it stands written and how well that is known. One with the footing *memory* never passes or fails a point
by itself: the outcome is *not provable* with the words "confirm it", until you have held it against the edition in force and
said so in your own file. *Practice* is common practice without a source; it judges, and you may replace it. Limits of accuracy
classes stand in [accuracy classes](accuracy-classes.md).

| id | of | limit | source | footing |
|---|---|---|---|---|
)";

constexpr auto tail = R"(
## Weighted average registration

A meter that is right at full load and slow at light load has no single error. FL and LL are its registration in % at full and at
light load.

| word | average | source | footing |
|---|---|---|---|
)";

constexpr auto foot = R"(
One instrument errs alike at both loads, so its uncertainty does not average out; two instruments' does.

## Your own limits

`--limits FILE` sets limits over the built-in ones, and adds others under ids of your own.

```toml
[limit."registration.in-service"]
low = -2
high = 2
standard = "ANSI C12.1"
edition = "2022"
clause = "5.1"
confirmed = true

[limit."lease.tenants"]
what = "error of a tenant's meter by the lease"
unit = "%"
low = -3
high = 3
standard = "lease, annex 4"
edition = "2024"
confirmed = true
```

| field | meaning |
|---|---|
| `low`, `high` | the limits, both included; give one or both. Given at all, they replace both |
| `what`, `unit` | for people |
| `standard`, `edition`, `clause` | where it stands written; printed with every result |
| `confirmed` | you have held the limit against this edition; needs `edition` |

What is confirmed is your word, and is printed as that.
)";

std::string average_words(evidence::Weighting weighting) {
    double const w = evidence::full_load_weight(weighting);
    return quantity::shortest(w) + " FL + " + quantity::fixed(1.0 - w, w == 0.75 ? 2 : 1) + " LL";
}
}  // namespace

std::expected<AcceptanceLimits, quantity::Fault> read_acceptance_limits(std::string_view text,
                                                                        std::string const& file) {
    auto const root = Table::parse(text, file);
    if (!root) return std::unexpected(root.error());
    root->only({"limit"});
    AcceptanceLimits limits;
    if (auto const all = root->table("limit"))
        for (auto const& id : all->fields())
            if (auto const table = all->table(id)) read_limit(*table, id, limits);
    if (auto const fault = root->fault()) return std::unexpected(*fault);
    return limits;
}

std::string acceptance_page() {
    std::string page = head;
    for (auto const& limit : evidence::built_in_limits())
        page += "| `" + limit.id + "` | " + limit.what + " | " + evidence::words_of(limit) + " | " +
                chain::words_of(limit.source) + " | " + std::string{plan::name_of(limit.source.footing)} +
                " |\n";
    page += tail;
    for (auto const& [weighting, word] : word_table(evidence::Weighting{})) {
        auto const source = evidence::source_of(weighting);
        page += "| `" + std::string{word} + "` | " + average_words(weighting) + " | " +
                chain::words_of(source) + " | " + std::string{plan::name_of(source.footing)} + " |\n";
    }
    return page + foot;
}

}  // namespace phasewright::commands
