#include "app/commands/plan_check_page.hpp"

#include <fmt/format.h>

#include "core/checks/ampacity.hpp"
#include "core/checks/notes.hpp"
#include "core/checks/rule.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::commands {

namespace {

constexpr std::string_view top = R"(# What a plan is checked for

`phasewright plan check --rules` wrote this page from the tables of the rules; a test compares the page
with the program.
[Check a plan](../tasks/check-a-plan.md) shows the command at work; [the plan file](plan.md) has the fields.

A finding has one of three weights:

| weight | what it says |
|---|---|
| **stop** | must not be built, energised or touched like this: people or equipment can come to harm |
| **mend** | the figures would be wrong or unproven, the meter would not live, or not be heard |
| **mind** | look at it, or say what the plan leaves open |

No finding says that something is safe, and a plan without findings is no proof that it is. Work on live
parts belongs to qualified people under the local code.

## How a limit is founded

Every limit says where it stands written and how well that is known:

| footing | what it says |
|---|---|
| seen | the figure was read in its source or in a copy of it |
| derived | it is computed, and the rule says how |
| practice | common practice, no source |
| memory | written down from memory: a *mind* and no more, until you have confirmed it for an edition |

A finding by a limit from memory says "check the edition in force". A stop comes with its caution.

Where physics alone makes a thing dangerous, whatever any edition says, a limit from memory does not
soften it: a transformer on an input that is no path for its current, a device rated at twice what a table
gives a conductor (four times the heat: no two editions differ so far), energy that melts copper, a fuse
that must break more than it can. Clause numbers of MODBUS over Serial Line and of IEC 60364-4-43 are from
memory; their figures are founded as the tables below say.

## Your own limits

`--limits FILE` reads numbers, editions and clauses that stand over the built-in ones. Every field may be
left out.

```toml
[rule."tap.three-metres"]
limit = 3
standard = "IEC 60364-4-43"
edition = "2008"
clause = "433.2.2"
confirmed = true

[[ampacity]]
size = "1.5 mm2"
amperes = 14
```

| table | field | meaning |
|---|---|---|
| `[rule."ID"]` | `limit` | the rule's number, in the unit that the page gives; only where it has one |
| | `standard`, `edition`, `clause` | where it stands written; printed with the finding |
| | `confirmed` | you have held the limit against this edition; needs `edition` |
| `[[ampacity]]` | `size`, `amperes` | what a copper conductor carries; replaces the table of its unit |

Sizes of `[[ampacity]]` in mm2 replace the whole table for mm2, those in AWG and kcmil the whole table for
those.

## The line, the status, JSON

```
mind  tap.small  point kitchen, panel main: ... (63 A against 10 A; common practice). Do: ...
```

One finding a line, most severe first, then the counts. Exit status: 0 nothing was found, 1 something was,
2 the plan, its limits or a profile cannot be read. With `--json` each finding is one line with `rule`,
`severity`, `places` (`kind`, `id`), `what`, `value`, `limit`, `unit`, `source` (`standard`, `edition`,
`clause`, `footing`, `confirmed`), `remedy` and `caution`; the last line has the counts (`stop`, `mend`,
`mind`, `points`). What has no number has `null` there.
)";

std::string cell(std::string_view text) { return text.empty() ? "–" : std::string(text); }

std::string limit_words(checks::Rule const& rule) {
    if (!rule.limit) return "–";
    auto words = checks::figure(rule.limit->value);
    if (!rule.limit->unit.empty()) words += " " + std::string(rule.limit->unit);
    if (!rule.limit->words.empty()) words += ", " + std::string(rule.limit->words);
    return words;
}

std::string source_words(checks::RuleSource const& source) {
    return checks::words_of_source({.standard = std::string(source.standard),
                                    .edition = std::string(source.edition),
                                    .clause = std::string(source.clause),
                                    .footing = source.footing,
                                    .confirmed = true});
}

void add_subject(checks::Subject const& subject, std::string& page) {
    page += fmt::format("\n## {}\n\n", subject.title);
    page +=
        "| rule | finds | weight | limit | source | footing | what to do |\n|---|---|---|---|---|---|---|\n";
    for (auto const& rule : subject.rules)
        page += fmt::format("| `{}` | {} | {} | {} | {} | {} | {} |\n", rule.id, rule.title,
                            plan::name_of(rule.severity), limit_words(rule), source_words(rule.source),
                            plan::name_of(rule.source.footing), cell(rule.remedy));
}

void add_cautions(std::string& page) {
    page += "\n## Cautions\n\nWhat a stop says besides.\n\n| rule | caution |\n|---|---|\n";
    for (auto const& subject : checks::subjects())
        for (auto const& rule : subject.rules)
            if (!rule.caution.empty()) page += fmt::format("| `{}` | {} |\n", rule.id, rule.caution);
}

void add_ampacities(std::string_view title, std::span<checks::Ampacity const> rows, std::string& page) {
    page += fmt::format("\n{}\n\n| size | A |\n|---|---|\n", title);
    for (auto const& row : rows)
        page += fmt::format("| {} | {} |\n", plan::text_of(row.size), quantity::shortest(row.amperes));
}
}  // namespace

std::string plan_checks_page() {
    std::string page(top);
    for (auto const& subject : checks::subjects()) add_subject(subject, page);
    add_cautions(page);
    page +=
        "\n## What a copper conductor carries\n\nFor ever, without its insulation ageing, laid as the table "
        "supposes; a tap or an "
        "instrument circuit is\nheld against it, and no circuit is designed with it.\n";
    add_ampacities("IEC 60364-5-52, Table B.52.2: PVC, method B1, two loaded conductors, 30 °C (memory)",
                   checks::metric_ampacities(), page);
    add_ampacities(
        "NEC 2023, Table 310.16: 75 °C, at most three current-carrying conductors, 30 °C (seen: two "
        "reprints)",
        checks::awg_ampacities(), page);
    return page;
}

}  // namespace phasewright::commands
