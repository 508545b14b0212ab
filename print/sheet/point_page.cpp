#include "print/sheet/point_page.hpp"

#include <algorithm>

#include "core/quantity/text.hpp"
#include "core/report/digest.hpp"
#include "core/report/wording.hpp"
#include "print/sheet/building.hpp"
#include "print/sheet/parts.hpp"
#include "print/sheet/phasors.hpp"
#include "print/sheet/svg.hpp"
#include "print/sheet/turn_ruler.hpp"

namespace phasewright::sheet {

using diagnosis::Severity;
using report::PointSheet;

namespace {

std::string walk_words(PointSheet const& sheet) {
    auto const state = report::state_of(sheet);
    std::size_t const here = state == report::PointState::done ? 3 : sheet.verdict ? 2 : 0;
    std::string text = "<p class=\"walk\">";
    std::size_t step = 0;
    for (std::string const word : {"planned", "wired", "read", "proved"}) {
        if (step > 0) text += " ▸ ";
        text += step == here ? "<b>" + word + "</b>" : word;
        ++step;
    }
    return text + "</p>";
}

std::string stop_block(PointSheet const& sheet) {
    std::string text;
    for (auto const& finding : report::findings_of(sheet))
        if (finding.severity == Severity::stop)
            text += "<p>" + words(report::sentence(finding.text)) + "</p>";
    return text.empty() ? text : "<div class=\"stop\"><p><b>STOP</b></p>" + text + "</div>\n";
}

std::string verdict_words(PointSheet const& sheet) {
    std::string text = "<h2>" + words(report::headline(sheet)) + "</h2>\n";
    auto const sure = report::certainty(sheet);
    auto const given = report::given_words(sheet);
    if (!sure.empty() && !sheet.verdict->classes.empty()) {
        bool const decided = sheet.verdict->state == diagnosis::State::mistake ||
                             sheet.verdict->state == diagnosis::State::as_planned;
        std::string const what =
            decided ? "" : ": " + report::clause(sheet.verdict->classes.front().in_words);
        text += paragraph(report::sentence(sure + what + ", " + given));
    }
    auto const also = report::registered(sheet) + " " + report::rivals(sheet);
    return text + (also == " " ? "" : paragraph(also));
}

std::string drawings(PointSheet const& sheet, plan::Region const& region) {
    auto const full = turn_ruler_svg(sheet, region, DrawingSize::full);
    if (full.empty()) return {};
    auto const set = phasor_set(sheet, region);
    std::string text = R"(<div class="drawings"><figure><div class="full">)" + full +
                       "</div><div class=\"small-only\">" +
                       turn_ruler_svg(sheet, region, DrawingSize::small) + "</div>";
    text +=
        "<figcaption>By how much each element’s current lags its own voltage. Hatched: where the load is "
        "expected. "
        "Dotted: the same load seen with another current, or with one turned round. On the right: the "
        "probability "
        "that the element is paired right and the right way round.</figcaption></figure>";
    auto const diagram = phasors_svg(set);
    if (!diagram.empty()) {
        text += "<figure>" + diagram +
                "<figcaption>Voltages thin, currents thick. A phasor that leads is turned "
                "anticlockwise. " +
                words(set.note) + "</figcaption></figure>";
    }
    return text + "</div>\n";
}

std::string tables(PointSheet const& sheet, plan::Region const& region) {
    if (!sheet.verdict) return {};
    auto const names = report::element_names(sheet, region);
    std::string text = "<div class=\"tables\">" +
                       element_table("As read", names, sheet.verdict->as_read, sheet.reading_age_s);
    if (!report::repair_of(sheet).empty())
        text +=
            element_table("The same load after the repair", names, sheet.verdict->after_repair, std::nullopt);
    return text + "</div>\n";
}

std::string one_move(diagnosis::Move const& move, bool first) {
    std::string text = first ? "<li class=\"first\">" : "<li>";
    text += "<b>" + words(report::sentence(move.move)) + "</b>";
    if (!move.before.empty()) text += "<p>Before: " + words(report::closed(move.before)) + "</p>";
    auto const cautions = quantity::joined(move.cautions, "; ");
    if (!cautions.empty()) text += "<p>Caution: " + words(report::closed(cautions)) + "</p>";
    if (!move.then.empty()) text += "<p>Then: " + words(report::closed(move.then)) + "</p>";
    return text + "</li>";
}

std::string repair(PointSheet const& sheet) {
    auto const moves = report::repair_of(sheet);
    if (moves.empty()) return {};
    bool const stopped = report::has_stop(sheet);
    std::string text = heading(stopped ? "Repair, only after the stop above is cleared" : "Repair");
    text += paragraph(
        "Before: permit and protective equipment as the site requires; take the load off if you can.");
    text += "<ol class=\"moves\">";
    bool first = !stopped;
    for (auto const& move : moves) {
        text += one_move(move, first);
        first = false;
    }
    return text + "</ol>\n";
}

constexpr double worth_a_line = 0.005;  // probabilities below this are left to the JSON

std::string outcomes(diagnosis::NextTest const& test) {
    std::string rows;
    for (auto const& outcome : test.outcomes)
        if (outcome.p >= worth_a_line)
            rows += "<tr>" + word_cell(report::sentence(outcome.if_seen)) + "<td class=\"n\">" +
                    words(report::percent(outcome.p)) + "</td>" + word_cell(report::sentence(outcome.then)) +
                    "</tr>";
    if (rows.empty()) return rows;
    return "<table class=\"words\"><thead><tr><th>if it shows</th><th "
           "class=\"n\">probability</th><th>then</th></tr>"
           "</thead><tbody>" +
           rows + "</tbody></table>\n";
}

// Where a class is believed, the test only makes it surer: one line then, and the hand goes elsewhere.
std::string next_test(PointSheet const& sheet) {
    if (!sheet.verdict || !sheet.verdict->next_test) return {};
    auto const& test = *sheet.verdict->next_test;
    auto const what = report::sentence(test.what.empty() ? test.kind + " " + test.at : test.what);
    bool const believed = sheet.verdict->state == diagnosis::State::mistake ||
                          sheet.verdict->state == diagnosis::State::as_planned;
    std::vector<std::string> facts, cautions;
    if (!test.who.empty()) facts.push_back("who: " + test.who);
    if (test.minutes > 0.0) facts.push_back("about " + quantity::fixed(test.minutes, 0) + " min");
    for (auto const& caution : test.cautions) cautions.push_back(report::sentence(caution));
    auto const who = facts.empty() ? std::string{} : report::sentence(quantity::joined(facts, ", "));
    auto const careful = quantity::joined(cautions, " ");
    if (believed) return heading("To be surer") + paragraph(what) + paragraph(who + " " + careful, "small");
    return heading("Next test") + "<div class=\"hand\">" + paragraph(what) + paragraph(who, "small") +
           bullets(cautions) + "</div>\n" + outcomes(test);
}

std::string possibilities(PointSheet const& sheet) {
    if (!sheet.verdict || sheet.verdict->classes.empty()) return {};
    auto const& verdict = *sheet.verdict;
    std::string text;
    if (verdict.state == diagnosis::State::undecided || verdict.state == diagnosis::State::unproven) {
        text +=
            "<table class=\"words\"><caption>What it can be</caption><thead><tr><th>wiring</th><th "
            "class=\"n\">probability</th>"
            "</tr></thead><tbody>";
        for (std::size_t k = 0; k < std::min<std::size_t>(verdict.classes.size(), 6); ++k) {
            if (verdict.classes[k].probability < worth_a_line) break;
            text += "<tr>" + word_cell(report::sentence(verdict.classes[k].in_words)) + "<td class=\"n\">" +
                    words(report::percent(verdict.classes[k].probability)) + "</td></tr>";
        }
        return text + "</tbody></table>\n";
    }
    std::vector<std::string> members;
    for (auto const& member : verdict.classes.front().wirings) {
        auto const said = report::sentence(member.in_words);
        if (!said.empty() && std::ranges::find(members, said) == members.end()) members.push_back(said);
    }
    if (members.size() < 2) return {};
    if (members.size() > 4) members.resize(4);
    return heading("No reading in hand separates these") + bullets(members);
}

// A stop is not repeated here: it stands over everything else.
std::string findings(PointSheet const& sheet) {
    std::string rows;
    for (auto const& finding : report::findings_of(sheet))
        if (finding.severity != Severity::stop)
            rows += "<tr><td class=\"w s\"><b>" + std::string(diagnosis::name_of(finding.severity)) +
                    "</b></td>" + word_cell(report::sentence(finding.text)) + "</tr>";
    if (sheet.verdict)
        for (auto const& one : sheet.verdict->disagreements)
            rows += "<tr><td class=\"s mono\">" + words(one.field) + "</td>" +
                    word_cell("shows " + one.found + ", expected " + one.expected + ".") + "</tr>";
    if (rows.empty()) return rows;
    return "<table class=\"words\"><caption>Findings</caption><tbody>" + rows + "</tbody></table>\n";
}

std::string meter_words(PointSheet const& sheet) {
    auto const& point = sheet.point;
    std::string text = std::string(plan::words_of(point.service)) + "; CTs " +
                       quantity::shortest(point.ct.ratio.primary) + "/" +
                       quantity::shortest(point.ct.ratio.secondary);
    if (!point.ct.accuracy_class.empty()) text += " class " + point.ct.accuracy_class;
    if (!point.purpose.empty()) text += "; " + point.purpose;
    if (!sheet.meter_identity.empty()) text += "; meter " + sheet.meter_identity;
    text += "; bus " + point.address.host + ":" + std::to_string(point.address.port) + " unit " +
            std::to_string(point.address.unit);
    return paragraph(report::sentence(text), "small");
}

std::string notes(PointSheet const& sheet) {
    std::vector<std::string> items;
    for (auto const& note : sheet.notes) items.push_back(report::sentence(note));
    if (sheet.verdict && !sheet.verdict->given.unused.empty())
        items.push_back("Known and not used yet: " + quantity::joined(sheet.verdict->given.unused, ", ") +
                        ".");
    std::string text;
    for (auto const& item : items) text += paragraph(item, "small");
    return text.empty() ? text : heading("Of the reading") + text;
}

}  // namespace

std::string point_page(report::JobReport const& report, std::size_t at) {
    auto const& sheet = report.sheets[at];
    auto const& region = report.site.region;
    auto const panel = std::ranges::find(report.site.panels, sheet.point.panel, &plan::Panel::id);
    std::string text = "<section id=\"" + anchor_of(at) + "\">\n<div class=\"head\"><p>" +
                       words(report::place_line(report, sheet)) + "</p>" + walk_words(sheet) + "</div>\n";
    text += stop_block(sheet) + verdict_words(sheet) + meter_words(sheet) + drawings(sheet, region);
    text += tables(sheet, region) + repair(sheet) + next_test(sheet) + possibilities(sheet);
    text += findings(sheet) + notes(sheet);
    text += paragraph(report::foot_line(sheet), "foot");
    bool const named = panel != report.site.panels.end() && !panel->name.empty();
    text += title_block(report, {.panel = named ? panel->name : sheet.point.panel,
                                 .point = sheet.point.name.empty() ? sheet.point.id : sheet.point.name,
                                 .sheet = at + 2,
                                 .sheets = report.sheets.size() + 1,
                                 .digest = report::digest_of(report, sheet)});
    return text + "</section>\n";
}

}  // namespace phasewright::sheet
