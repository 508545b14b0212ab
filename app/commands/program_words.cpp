#include "app/commands/program_words.hpp"

#include <algorithm>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "app/commands/terminal_lines.hpp"

namespace phasewright::commands {

namespace {

using nlohmann::ordered_json;
using profile::SettingName;
using program::Outcome;
using program::RowState;

std::string words_or(SettingName name, std::optional<double> value, std::string_view else_words) {
    return value ? program::value_words(name, *value) : std::string(else_words);
}

std::string would_words(program::Row const& row) {
    switch (row.state) {
        case RowState::as_planned: return "as planned";
        case RowState::would_write: return program::value_words(row.setting, *row.planned);
        case RowState::not_planned: return "-";
        case RowState::cannot_read: return "cannot be read";
        case RowState::cannot_write: return "cannot be written";
    }
    return {};
}

std::string_view totals_words_of(program::OldTotals totals) {
    switch (totals) {
        case program::OldTotals::kept:
            return "Energies counted before kept their numbers; they were counted by the old ratio.";
        case program::OldTotals::rescaled: return "Energies counted before are now shown by the new ratio.";
        case program::OldTotals::cannot_tell:
            return "Whether energies counted before were rescaled cannot be told from the counters.";
        case program::OldTotals::mixed:
            return "Some energies counted before were rescaled and some were not.";
    }
    return {};
}

std::string wrapped_at(std::string_view text, std::size_t indent) {
    std::string lines;
    for (auto const& line : wrapped(printable(text), 80 - indent))
        lines += std::string(indent, ' ') + line + '\n';
    return lines;
}

std::string row_lines(std::vector<program::Row> const& rows) {
    auto lines =
        fmt::format("  {:<16} {:<20} {:<20} {}\n", "setting", "planned", "in the meter", "would write");
    for (auto const& row : rows) {
        lines += fmt::format("  {:<16} {:<20} {:<20} {}\n", profile::words_of(row.setting),
                             words_or(row.setting, row.planned, "-"),
                             words_or(row.setting, row.in_meter, "not known"), would_words(row));
        if (!row.why.empty()) lines += wrapped_at(row.why + ".", 6);
    }
    return lines;
}

std::string_view outcome_words(Outcome outcome) {
    if (outcome == Outcome::written) return "written";
    return outcome == Outcome::in_doubt ? "in doubt" : "not written";
}

std::string step_lines(program::StepResult const& step) {
    auto lines = fmt::format("  {:<16} {:<20} {:<20} {}\n", profile::words_of(step.setting),
                             words_or(step.setting, step.from, "other"),
                             words_or(step.setting, step.to, "as found"), outcome_words(step.outcome));
    if (!step.says.empty()) lines += wrapped_at(step.says + ".", 6);
    if (step.old_totals) lines += wrapped_at(totals_words_of(*step.old_totals), 6);
    for (auto const& words : step.totals_words) lines += wrapped_at(words, 8);
    return lines;
}

ordered_json json_of(SettingName name, std::optional<double> value) {
    if (!value) return nullptr;
    if (name == SettingName::service || name == SettingName::parity) return profile::words_of(name, *value);
    return *value;
}

}  // namespace

std::string program_cautions() {
    std::string text;
    text += wrapped_at(
        "Before anything is written: a ratio that is not the fitted one makes every later count wrong, and "
        "what "
        "is billed by it. Who may set or change it, and what must be written down, is for local rules and "
        "for the owner of the meter.",
        0);
    text += wrapped_at(
        "Nothing here asks you to open the meter or to touch a terminal. If a meter must be restarted or "
        "unlocked at its own buttons, do that from outside live parts, as the site's rules require; never "
        "open "
        "a current transformer's secondary circuit under load.",
        0);
    return text;
}

std::string program_lines(program::MeterResult const& result, std::string const& name, bool would_write) {
    auto lines = printable(name);
    if (!result.meter.empty()) lines += ": " + printable(result.meter);
    lines += fmt::format(", address {}{}\n", result.unit,
                         result.format ? ", " + plan::words_of(*result.format) : std::string());
    if (!result.rows.empty() && (would_write || result.steps.empty())) lines += row_lines(result.rows);
    if (!result.steps.empty()) {
        lines += fmt::format("  {:<16} {:<20} {:<20} {}\n", "setting", "before", "meant", "now");
        for (auto const& step : result.steps) lines += step_lines(step);
        for (auto const& row : result.rows)
            if (row.state == RowState::cannot_read || row.state == RowState::cannot_write)
                lines += fmt::format("  {:<16} {:<20} {:<20} {}\n", profile::words_of(row.setting),
                                     words_or(row.setting, row.in_meter, "not known"),
                                     words_or(row.setting, row.planned, "-"), would_words(row)) +
                         wrapped_at(row.why + ".", 6);
    }
    for (auto const& note : result.notes) lines += wrapped_at("Note: " + note + ".", 2);
    if (result.failed) return lines + wrapped_at("mend: " + *result.failed, 2);
    auto const count = std::ranges::count(result.rows, RowState::would_write, &program::Row::state);
    if (would_write)
        lines += count == 0 ? (result.whole ? "  Nothing to write.\n" : "  Nothing can be written.\n")
                            : fmt::format("  {} setting{} would be written; nothing was.\n", count,
                                          count == 1 ? "" : "s");
    else if (result.whole)
        lines += result.steps.empty() ? "  Nothing had to be written.\n" : "  Written and read back.\n";
    else
        lines += "  mend: not all of it stands in the meter.\n";
    return lines;
}

std::string program_json(program::MeterResult const& result, std::string const& purpose) {
    ordered_json json{
        {"point", result.point}, {"purpose", purpose}, {"meter", result.meter}, {"unit", result.unit}};
    json["format"] = result.format ? ordered_json(plan::words_of(*result.format)) : ordered_json(nullptr);
    auto rows = ordered_json::array();
    for (auto const& row : result.rows)
        rows.push_back({{"setting", profile::name_of(row.setting)},
                        {"planned", json_of(row.setting, row.planned)},
                        {"in_meter", json_of(row.setting, row.in_meter)},
                        {"state", program::name_of(row.state)},
                        {"why", row.why}});
    json["settings"] = std::move(rows);
    auto steps = ordered_json::array();
    for (auto const& step : result.steps) {
        ordered_json one{{"setting", profile::name_of(step.setting)},
                         {"from", json_of(step.setting, step.from)},
                         {"to", json_of(step.setting, step.to)},
                         {"read_back", json_of(step.setting, step.read_back)},
                         {"outcome", step.outcome == Outcome::written    ? "written"
                                     : step.outcome == Outcome::in_doubt ? "in-doubt"
                                                                         : "not-written"},
                         {"says", step.says}};
        if (step.old_totals) one["old_totals"] = program::name_of(*step.old_totals);
        steps.push_back(std::move(one));
    }
    json["steps"] = std::move(steps);
    json["notes"] = result.notes;
    json["failed"] = result.failed ? ordered_json(*result.failed) : ordered_json(nullptr);
    json["whole"] = result.whole;
    return json.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
}

}  // namespace phasewright::commands
