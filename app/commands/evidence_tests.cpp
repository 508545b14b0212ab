#include "app/commands/evidence_tests.hpp"

#include "app/commands/plan_entries.hpp"

namespace phasewright::commands {

using tables::Table;

namespace {
std::vector<std::string> const accuracy_fields{"of_reading_percent", "of_range_percent", "digits", "range",
                                               "last_place",         "phase_min"};
}  // namespace

std::vector<std::string> with_accuracy(std::vector<std::string> fields) {
    fields.insert(fields.end(), accuracy_fields.begin(), accuracy_fields.end());
    return fields;
}

evidence::Accuracy read_accuracy(Table const& table) {
    auto const number = [&](std::string_view field) {
        return table.number(field, not_negative).value_or(0.0);
    };
    evidence::Accuracy accuracy{.of_reading_percent = number("of_reading_percent"),
                                .of_range_percent = number("of_range_percent"),
                                .digits = number("digits"),
                                .range = number("range"),
                                .last_place = number("last_place"),
                                .phase_min = table.number("phase_min", not_negative)};
    if (accuracy.of_range_percent > 0.0 && accuracy.range == 0.0)
        table.refuse("range", "a share of the range needs the range",
                     "the full scale, in the unit of the readings");
    if (accuracy.digits > 0.0 && accuracy.last_place == 0.0)
        table.refuse("last_place", "digits need what one of them is worth", "the last place of the display");
    if (accuracy.of_reading_percent + accuracy.of_range_percent + accuracy.digits == 0.0)
        table.refuse("of_reading_percent", "nothing says how accurate the instrument is",
                     "of_reading_percent, of_range_percent with range, digits with last_place",
                     "its data sheet or its certificate says it");
    return accuracy;
}

evidence::Instrument read_instrument(Table const& table) {
    table.only(with_accuracy({"name", "serial", "certificate", "calibrated", "due"}));
    return {.name = table.needed_text("name"),
            .serial = table.text("serial").value_or(""),
            .accuracy = read_accuracy(table),
            .certificate = table.text("certificate").value_or(""),
            .calibrated = table.text("calibrated").value_or(""),
            .due = table.text("due").value_or("")};
}

evidence::AcceptanceLimit limit_of(Table const& table, evidence::AcceptanceLimits const& limits,
                                   std::string const& usual) {
    std::vector<std::string> ids;
    for (auto const& limit : limits.all()) ids.push_back(limit.id);
    auto const id = table.word("limit", ids).value_or(usual);
    auto const* const found = limits.find(id);
    return found == nullptr ? evidence::AcceptanceLimit{} : *found;
}

AnswerItem item_of(evidence::TestKind test, evidence::Judgement judgement, std::string name) {
    AnswerItem item{
        .test = test, .name = std::move(name), .outcome = judgement.outcome, .reason = judgement.reason};
    item.judgement = std::move(judgement);
    return item;
}

quantity::Fault in_file(quantity::Fault fault, std::filesystem::path const& file) {
    fault.where = file.string() + (fault.where.empty() ? "" : " " + fault.where);
    return fault;
}

}  // namespace phasewright::commands
