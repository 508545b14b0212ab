#include "app/commands/confirm_words.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "app/commands/terminal_lines.hpp"
#include "app/commands/verdict_lines.hpp"
#include "core/quantity/text.hpp"
#include "core/report/wording.hpp"

namespace phasewright::commands {

using diagnosis::Comparison;
using diagnosis::Confirmation;
using nlohmann::ordered_json;

namespace {
constexpr std::size_t width = 80;
constexpr std::size_t state_columns = 14;  // "cannot compare"

// --- for people ---

std::string padded(std::string text, std::size_t columns) {
    auto const used = columns_of(text);
    if (used < columns) text.append(columns - used, ' ');
    return text;
}
std::string right(std::string const& text, std::size_t columns) {
    auto const used = columns_of(text);
    return used < columns ? std::string(columns - used, ' ') + text : text;
}

std::string words_of(diagnosis::Confirmed state) {
    std::string words{name_of(state)};
    std::ranges::replace(words, '_', ' ');
    return words;
}

std::string cell(std::optional<double> const& value, int decimals) {
    return value ? quantity::fixed(*value, decimals) : "-";
}
std::string kilowatts(std::optional<double> const& watts) {
    return watts ? quantity::with_sign(*watts / 1000.0, 2) : "-";
}
std::string row(std::string const& name, std::string const& what, diagnosis::ElementValues const& values,
                std::string const& word) {
    auto text = "  " + padded(name, 16) + padded(what, 11) + right(cell(values.v, 1), 8) +
                right(cell(values.i, 1), 10) + right(cell(values.lag_deg, 1), 9) +
                right(kilowatts(values.p), 10);
    if (!word.empty()) text += "  " + word;
    return text + "\n";
}

std::string table_of(Confirmation const& c) {
    std::string text = "  " + padded("", 27) + right("V", 8) + right("A", 10) + right("lag \u00b0", 9) +
                       right("kW", 10) + "\n";
    for (auto const& e : c.comparison.elements) {
        auto const name = printable(e.name);
        if (c.by_diagnosis_alone) {
            text += row(name, "read", e.read, {});
            continue;
        }
        text += row(name, "predicted", e.predicted, {});
        text += row({}, "read", e.read, !e.agrees ? "not told" : *e.agrees ? "agrees" : "differs");
    }
    return text;
}

// What all elements did together, and how far one may be from the others.
std::string together_words(Comparison const& c) {
    std::vector<std::string> parts;
    if (c.turn_deg)
        parts.push_back("lag " + quantity::with_sign(*c.turn_deg, 1) + "\u00b0 (up to " +
                        quantity::fixed(c.turn_allowed_deg, 1) + "\u00b0)");
    if (c.current_factor)
        parts.push_back("current " + quantity::fixed(*c.current_factor, 2) + " times (any)");
    if (c.voltage_factor)
        parts.push_back("voltage " + quantity::fixed(*c.voltage_factor, 3) + " times (up to " +
                        quantity::fixed(c.voltage_factor_allowed, 2) + ")");
    if (parts.empty()) return {};
    return "All together: " + quantity::joined(parts, ", ") + ". One against the others: lag up to " +
           quantity::fixed(c.one_turn_allowed_deg, 1) + "\u00b0, current up to " +
           quantity::fixed(c.one_current_factor_allowed, 2) + " times, voltage up to " +
           quantity::fixed(c.one_voltage_factor_allowed, 3) + " times.";
}

// A number and its unit stay on one line.
std::string kept_together(std::string text) {
    for (std::string_view const unit : {" %", " A"})
        for (auto at = text.find(unit); at != std::string::npos; at = text.find(unit, at + 1))
            if (at > 0 && text[at - 1] >= '0' && text[at - 1] <= '9') text.replace(at, 1, "\u00a0");
    return text;
}

// What was said already, but for its first letter, is not said again.
bool was_said(std::vector<std::string> const& sentences, std::string const& text) {
    return std::ranges::any_of(
        sentences, [&](auto const& one) { return one.find(text.substr(1)) != std::string::npos; });
}

std::vector<std::string> sentences_of(Confirmation const& c) {
    using diagnosis::Severity;
    std::vector<std::string> sentences;
    auto const add_findings = [&](Severity severity) {
        for (auto const& finding : c.findings)
            if (finding.severity == severity && !finding.text.empty() &&
                !was_said(sentences, report::clause(finding.text)))
                sentences.push_back(std::string{name_of(severity)} + ": " + report::closed(finding.text));
    };
    add_findings(Severity::stop);
    sentences.push_back(report::sentence(c.in_words));
    for (auto const& reason : c.reasons) sentences.push_back(report::sentence(reason));
    if (c.state != diagnosis::Confirmed::confirmed) add_findings(Severity::mend);
    if (c.verdict) add_findings(Severity::mind);
    bool const ask = c.verdict && c.verdict->next_test && !c.verdict->next_test->what.empty() &&
                     c.state != diagnosis::Confirmed::confirmed;
    if (ask) sentences.push_back("Next: " + report::closed(c.verdict->next_test->what));
    if (!c.comparison.elements.empty() && !c.by_diagnosis_alone)
        sentences.push_back(together_words(c.comparison));
    return sentences;
}

// --- for programs ---

double rounded(double value) {
    if (value == 0.0 || !std::isfinite(value)) return value;
    double const scale = std::pow(10.0, 5.0 - std::floor(std::log10(std::abs(value))));
    double const near = std::round(value * scale) / scale;
    return std::isfinite(near) ? near + 0.0 : value;
}
ordered_json number(std::optional<double> const& value) {
    return value && std::isfinite(*value) ? ordered_json(rounded(*value)) : ordered_json(nullptr);
}
ordered_json of(diagnosis::ElementValues const& values) {
    return {{"v", number(values.v)},
            {"i", number(values.i)},
            {"p", number(values.p)},
            {"q", number(values.q)},
            {"lag", number(values.lag_deg)}};
}
ordered_json of(diagnosis::ElementComparison const& e) {
    ordered_json agrees = nullptr;
    if (e.agrees) agrees = *e.agrees;
    return {{"name", e.name},
            {"predicted", of(e.predicted)},
            {"read", of(e.read)},
            {"agrees", agrees},
            {"was_to_change", e.was_to_change},
            {"lag_beyond", number(e.turn_deg)},
            {"current_beyond", number(e.current_factor)},
            {"voltage_beyond", number(e.voltage_factor)},
            {"why", e.why}};
}
ordered_json together_of(Comparison const& c) {
    return {{"lag", number(c.turn_deg)},
            {"lag_allowed", number(c.turn_allowed_deg)},
            {"current", number(c.current_factor)},
            {"voltage", number(c.voltage_factor)},
            {"voltage_allowed", number(c.voltage_factor_allowed)},
            {"one_lag_allowed", number(c.one_turn_allowed_deg)},
            {"one_current_allowed", number(c.one_current_factor_allowed)},
            {"one_voltage_allowed", number(c.one_voltage_factor_allowed)},
            {"against", c.against}};
}
void carry(ordered_json& line, std::string_view carried) {
    if (carried.empty()) return;
    auto const fields = ordered_json::parse(carried);
    for (auto const& [name, value] : fields.items()) line[name] = value;
}
std::string dumped(ordered_json const& line) {
    return line.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
}
}  // namespace

std::string confirmation_lines(Confirmation const& confirmation, std::size_t name_width) {
    auto const name = printable(confirmation.id);
    std::string text;
    std::string lead = padded(name, name_width);
    if (columns_of(name) > name_width) {
        for (auto const& line : wrapped(name, width)) text += line + "\n";
        lead = std::string(name_width, ' ');
    }
    lead += "  " + padded(words_of(confirmation.state), state_columns) + "  ";
    std::string const indent(name_width + state_columns + 4, ' ');
    for (auto const& sentence : sentences_of(confirmation))
        for (auto const& line : wrapped(kept_together(printable(sentence)), width - indent.size())) {
            text += (lead.empty() ? indent : lead) + line + "\n";
            lead.clear();
        }
    if (!confirmation.comparison.elements.empty()) text += table_of(confirmation);
    return text;
}

std::string confirmation_foot() {
    std::string text;
    for (auto const& line :
         wrapped("Of the metering only. A reading is no proof of absence of voltage; closing and "
                 "energising is the decision of the qualified person in charge.",
                 width))
        text += line + "\n";
    return text;
}

std::string confirmation_json(Confirmation const& confirmation, plan::ServiceModel const& model,
                              std::string_view moved_at, std::string_view carried) {
    ordered_json line{
        {"id", confirmation.id},
        {"contract", 1},
        {"state", std::string{name_of(confirmation.state)}},
        {"in_words", confirmation.in_words},
        {"reasons", confirmation.reasons},
        {"moved_at", moved_at.empty() ? ordered_json(nullptr) : ordered_json(std::string{moved_at})},
        {"by_diagnosis_alone", confirmation.by_diagnosis_alone}};
    bool const compared = !confirmation.comparison.elements.empty();
    line["together"] = compared ? together_of(confirmation.comparison) : ordered_json(nullptr);
    line["elements"] = ordered_json::array();
    for (auto const& element : confirmation.comparison.elements) line["elements"].push_back(of(element));
    line["findings"] = ordered_json::array();
    for (auto const& finding : confirmation.findings)
        line["findings"].push_back(
            ordered_json{{"severity", std::string{name_of(finding.severity)}}, {"text", finding.text}});
    line["verdict"] =
        confirmation.verdict ? ordered_json::parse(verdict_line(*confirmation.verdict, model)) : nullptr;
    carry(line, carried);
    return dumped(line);
}

std::string unusable_json(std::string_view file, std::size_t line_number, LineFault const& fault) {
    auto line = ordered_json::parse(fault_line(line_number, fault));
    line["file"] = std::string{file};
    return dumped(line);
}

}  // namespace phasewright::commands
