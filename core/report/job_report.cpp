#include "core/report/job_report.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "core/quantity/angle.hpp"
#include "core/quantity/text.hpp"
#include "core/report/wording.hpp"

namespace phasewright::report {

using diagnosis::Severity;
using quantity::fixed;

namespace {

bool has_class(PointSheet const& sheet) { return sheet.verdict && !sheet.verdict->classes.empty(); }

int open_of(PointSheet const& sheet, Severity severity) {
    auto const findings = findings_of(sheet);
    return static_cast<int>(std::ranges::count(findings, severity, &diagnosis::Finding::severity));
}

std::string open_words(int count, std::string_view word) {
    static constexpr std::array<std::string_view, 10> numbers{"no",   "one", "two",   "three", "four",
                                                              "five", "six", "seven", "eight", "nine"};
    auto const at = static_cast<std::size_t>(count);
    return (at < numbers.size() ? std::string(numbers[at]) : std::to_string(count)) + " " + std::string(word);
}

// "1.6 A through CTs of 100 A": what made a reading unproven, when the numbers are there.
std::string load_words(PointSheet const& sheet) {
    double largest = -1.0;
    for (auto const& element : sheet.verdict->as_read)
        if (element.i) largest = std::max(largest, std::abs(*element.i));
    double const rated = sheet.point.ct.ratio.primary;
    if (largest < 0.0 || !(rated > 0.0)) return "the load is below 5 % of what the CTs are rated for";
    return "at most " + fixed(largest, 2) + " A flows through CTs rated " + quantity::shortest(rated) +
           " A, below 5 %";
}

// As the words after a colon start: "Is it" becomes "is it", "L2" stays.
std::string lowered(std::string text) {
    bool const word = text.size() > 1 && text[0] >= 'A' && text[0] <= 'Z' && text[1] >= 'a' && text[1] <= 'z';
    if (word) text[0] = static_cast<char>(text[0] - 'A' + 'a');
    return text;
}

std::string question_of(diagnosis::Verdict const& verdict) {
    if (!verdict.next_test) return {};
    auto const& test = *verdict.next_test;
    if (!test.what.empty()) return closed(test.what);
    std::string words = test.kind;
    std::ranges::replace(words, '_', ' ');
    return closed(test.at.empty() ? words : words + " at " + test.at);
}

std::string undecided_words(diagnosis::Verdict const& verdict) {
    if (verdict.next_test) return "Cannot tell yet: " + lowered(question_of(verdict));
    if (verdict.classes.size() < 2) return "Cannot tell yet: trace the leads of this meter by hand.";
    return "Cannot tell yet: " + clause(verdict.classes[0].in_words) + ", or " +
           clause(verdict.classes[1].in_words) + "; trace the named leads by hand.";
}

std::string contradictory_words(diagnosis::Verdict const& verdict) {
    std::string text = "These readings do not agree with each other";
    if (verdict.disagreements.empty()) return text + ".";
    auto const& first = verdict.disagreements.front();
    return text + ": " + first.field + " shows " + first.found + ", expected " + first.expected + ".";
}

std::string_view load_word(plan::LoadKind kind) {
    switch (kind) {
        case plan::LoadKind::resistive: return "resistive load";
        case plan::LoadKind::motor: return "motor load";
        case plan::LoadKind::electronic: return "electronic load";
        case plan::LoadKind::mixed: return "mixed load";
        case plan::LoadKind::generation: return "generation";
        case plan::LoadKind::capacitive: return "capacitive load";
    }
    return "load kind not known";
}

std::string load_part(readings::LoadKinds const& kinds) {
    if (kinds.whole) return std::string(load_word(*kinds.whole));
    std::vector<std::string> parts;
    if (kinds.three_phase) parts.push_back(std::string(load_word(*kinds.three_phase)) + " on three phases");
    if (kinds.legs) parts.push_back(std::string(load_word(*kinds.legs)) + " on the legs");
    return parts.empty() ? "load kind not known" : quantity::joined(parts, ", ");
}

int rank_of(PointSheet const& sheet) {
    if (has_stop(sheet)) return 0;
    auto const state = state_of(sheet);
    if (state == PointState::wrong) return 1;
    if (!sheet.bus_findings.empty()) return 2;
    if (state == PointState::doubtful) return 3;
    return state == PointState::not_yet ? 4 : 5;
}

std::string line_name(plan::Region const& region, plan::Conductor conductor) {
    return region.conductors[static_cast<std::size_t>(conductor)];
}

}  // namespace

std::string_view word_of(PointState state) {
    switch (state) {
        case PointState::done: return "done";
        case PointState::doubtful: return "doubtful";
        case PointState::wrong: return "wrong";
        case PointState::not_yet: return "not yet";
    }
    return "not yet";
}

std::vector<diagnosis::Finding> findings_of(PointSheet const& sheet) {
    auto findings = sheet.bus_findings;
    // The first class is said in the headline or with its probability; it is no finding beside itself.
    auto const first = has_class(sheet) ? sentence(sheet.verdict->classes.front().in_words) : std::string{};
    if (sheet.verdict)
        for (auto const& finding : sheet.verdict->findings)
            if (finding.severity == Severity::stop || sentence(finding.text) != first)
                findings.push_back(finding);
    std::ranges::stable_sort(findings, {}, &diagnosis::Finding::severity);
    return findings;
}

bool has_stop(PointSheet const& sheet) { return open_of(sheet, Severity::stop) > 0; }

PointState state_of(PointSheet const& sheet) {
    if (!sheet.verdict) return PointState::not_yet;
    switch (sheet.verdict->state) {
        case diagnosis::State::mistake: return PointState::wrong;
        case diagnosis::State::undecided:
        case diagnosis::State::unproven:
        case diagnosis::State::contradictory: return PointState::doubtful;
        case diagnosis::State::as_planned: break;
    }
    bool const open = has_stop(sheet) || open_of(sheet, Severity::mend) > 0;
    return open ? PointState::doubtful : PointState::done;
}

std::string headline(PointSheet const& sheet) {
    if (!sheet.verdict) {
        auto const findings = findings_of(sheet);
        if (findings.empty()) return "Not read yet.";
        std::string const what = sheet.readings ? "These readings cannot be used: " : "No reading: ";
        return what + closed(findings.front().text);
    }
    auto const& verdict = *sheet.verdict;
    switch (verdict.state) {
        case diagnosis::State::as_planned: return "Wired as planned.";
        case diagnosis::State::mistake:
            return verdict.classes.empty() ? "Not wired as planned."
                                           : sentence(verdict.classes.front().in_words);
        case diagnosis::State::undecided: return undecided_words(verdict);
        case diagnosis::State::unproven: return "Unproven: " + load_words(sheet) + ".";
        case diagnosis::State::contradictory: return contradictory_words(verdict);
    }
    return {};
}

std::string certainty(PointSheet const& sheet) {
    if (!has_class(sheet)) return {};
    auto const& verdict = *sheet.verdict;
    auto const& first = verdict.classes.front();
    switch (verdict.state) {
        case diagnosis::State::as_planned:
        case diagnosis::State::mistake: return percent(first.probability) + " sure";
        case diagnosis::State::undecided: return "likeliest " + percent(first.probability);
        case diagnosis::State::unproven:  // too little flows for a probability to promise anything
        case diagnosis::State::contradictory: return {};
    }
    return {};
}

std::string likeliest(PointSheet const& sheet) {
    if (!has_class(sheet) || sheet.verdict->state != diagnosis::State::undecided) return {};
    auto const& first = sheet.verdict->classes.front();
    return "Likeliest, " + percent(first.probability) + ": " + closed(first.in_words);
}

std::string given_words(PointSheet const& sheet) {
    if (!sheet.readings) return {};
    auto const& set = *sheet.readings;
    std::vector<std::string> parts;
    bool const has_snapshot = !set.snapshots.empty();
    auto const& told = has_snapshot ? set.snapshots.back().load_kind : set.load_kind;
    bool const snapshot_tells = told.whole || told.three_phase || told.legs;
    parts.push_back(load_part(snapshot_tells ? told : set.load_kind));
    if (!set.flow) {
        parts.emplace_back("direction of energy not known");
    } else {
        switch (*set.flow) {
            case plan::Flow::import_only: parts.emplace_back("no generation"); break;
            case plan::Flow::export_only: parts.emplace_back("generation only"); break;
            case plan::Flow::both: parts.emplace_back("generation possible"); break;
        }
    }
    if (has_snapshot && set.snapshots.back().generation_running)
        parts.emplace_back(*set.snapshots.back().generation_running ? "generation running"
                                                                    : "generation stopped");
    parts.emplace_back(set.prior == readings::Prior::commissioning ? "new wiring" : "a meter in service");
    return "given: " + quantity::joined(parts, ", ");
}

std::string rivals(PointSheet const& sheet) {
    if (certainty(sheet).empty()) return {};
    auto const& classes = sheet.verdict->classes;
    std::vector<std::string> parts;
    double named = classes.front().probability;
    for (std::size_t k = 1; k < classes.size() && parts.size() < 3; ++k) {
        if (classes[k].probability < 0.001) break;
        parts.push_back(clause(classes[k].in_words) + " " + percent(classes[k].probability));
        named += classes[k].probability;
    }
    double const other = std::max(0.0, 1.0 - named);
    if (parts.empty())
        return other < 0.0005 ? "No rival above 0.1 %." : "Rivals: all together " + percent(other) + ".";
    if (other >= 0.0005) parts.push_back("other " + percent(other));
    return "Rivals: " + quantity::joined(parts, ", ") + ".";
}

std::string registered(PointSheet const& sheet) {
    if (!has_class(sheet)) return {};
    auto const state = sheet.verdict->state;
    if (state != diagnosis::State::as_planned && state != diagnosis::State::mistake) return {};
    auto const& first = sheet.verdict->classes.front();
    auto const& power = first.true_power;
    if (!power.p_w)
        return power.why.empty() ? std::string{} : "The true power cannot be told: " + closed(power.why);
    bool const exported = *power.p_w < 0.0;
    std::string const truth =
        "the true " + power_words(std::abs(*power.p_w), "W") + (exported ? " of export" : "");
    std::string band;
    if (power.p05_w && power.p95_w && std::abs(*power.p95_w - *power.p05_w) > 0.02 * std::abs(*power.p_w)) {
        double const low = std::min(std::abs(*power.p05_w), std::abs(*power.p95_w));
        double const high = std::max(std::abs(*power.p05_w), std::abs(*power.p95_w));
        band = " (90 % between " + power_words(low, "W") + " and " + power_words(high, "W") + ")";
    }
    if (!first.registered_share) return "The true power is " + truth.substr(9) + band + ".";
    double const share = *first.registered_share;
    if (std::abs(share) < 0.005) return "Registers nothing of " + truth + band + ".";
    if (std::abs(share - 1.0) < 0.005) return "Registers all of " + truth + band + ".";
    std::string const backwards = share < 0.0 ? "; it counts backwards" : "";
    return "Registers " + fixed(100.0 * share, 0) + " % of " + truth + band + backwards + ".";
}

std::string foot_line(PointSheet const& sheet) {
    int const stops = open_of(sheet, Severity::stop);
    auto const state = state_of(sheet);
    int const mends = open_of(sheet, Severity::mend) + (state == PointState::wrong ? 1 : 0);
    std::vector<std::string> open;
    if (stops > 0) open.push_back(open_words(stops, "stop"));
    if (mends > 0) open.push_back(open_words(mends, "mend"));
    std::string text = "Metering: ";
    if (state == PointState::done) {
        text += "proved as planned by this reading, nothing open. ";
    } else {
        text += "not yet proved, ";
        text += open.empty() ? (sheet.verdict ? "one question open" : "not read")
                             : quantity::joined(open, " and ") + " open";
        text += ". ";
    }
    return text + "Closing and energising is the decision of the qualified person in charge.";
}

std::vector<diagnosis::Move> repair_of(PointSheet const& sheet) {
    if (!has_class(sheet) || sheet.verdict->state != diagnosis::State::mistake) return {};
    auto const& wirings = sheet.verdict->classes.front().wirings;
    return wirings.empty() ? std::vector<diagnosis::Move>{} : wirings.front().repair;
}

std::vector<Count> counted(JobReport const& report) {
    std::vector<Count> counts;
    for (auto const state : {PointState::done, PointState::doubtful, PointState::wrong, PointState::not_yet})
        counts.push_back({state, static_cast<int>(std::ranges::count(report.sheets, state, state_of))});
    return counts;
}

std::string counts_line(JobReport const& report) {
    std::vector<std::string> parts;
    for (auto const& count : counted(report))
        if (count.points > 0)
            parts.push_back(std::to_string(count.points) + " " + std::string(word_of(count.state)));
    auto const total = report.sheets.size();
    if (total == 0) return "No metering points.";
    return std::to_string(total) + (total == 1 ? " point: " : " points: ") + quantity::joined(parts, ", ") +
           ".";
}

std::optional<std::size_t> next_to_work_on(JobReport const& report) {
    auto const first = std::ranges::min_element(report.sheets, {}, rank_of);
    if (first == report.sheets.end() || rank_of(*first) == 5) return std::nullopt;
    return static_cast<std::size_t>(first - report.sheets.begin());
}

std::string place_line(JobReport const& report, PointSheet const& sheet) {
    auto const panel = std::ranges::find(report.site.panels, sheet.point.panel, &plan::Panel::id);
    std::string text = sheet.point.name.empty() ? sheet.point.id : sheet.point.name;
    std::string const panel_name =
        panel == report.site.panels.end() || panel->name.empty() ? sheet.point.panel : panel->name;
    if (!panel_name.empty()) text += " · panel " + panel_name;
    if (!sheet.point.way.empty()) text += " · way " + sheet.point.way;
    return text;
}

std::vector<ElementNames> element_names(PointSheet const& sheet, plan::Region const& region) {
    auto const model = sheet.readings ? readings::model_of(*sheet.readings)
                                      : plan::model_of(sheet.point.service, sheet.point.model_options);
    std::vector<ElementNames> names;
    for (auto const& element : model.elements) {
        ElementNames name;
        auto const terminal = [&](int at) {
            return line_name(region, model.terminals[static_cast<std::size_t>(at)]);
        };
        name.voltage = terminal(element.plus);
        if (element.minus >= 0) name.voltage += "-" + terminal(element.minus);
        name.current =
            element.current_input == plan::derived_current
                ? "derived"
                : line_name(region, model.current_inputs[static_cast<std::size_t>(element.current_input)]);
        names.push_back(name);
    }
    return names;
}

std::optional<double> lag_of(diagnosis::ElementValues const& element) {
    if (element.lag_deg) return std::isfinite(*element.lag_deg) ? element.lag_deg : std::nullopt;
    if (!element.p || !element.q || (*element.p == 0.0 && *element.q == 0.0)) return std::nullopt;
    double const lag = quantity::to_degrees({std::atan2(*element.q, *element.p)}).value;
    return std::isfinite(lag) ? std::optional{lag} : std::nullopt;
}

std::vector<std::string> standing_cautions() {
    return {
        "A reading is no proof of absence of voltage. Prove every conductor dead with a two-pole tester of "
        "the right "
        "measurement category before touching it.",
        "A current transformer whose secondary loop is opened under load can burn and kill. Never open one.",
        "Local codes, the site's permits and licensed practice come before anything printed here.",
    };
}

}  // namespace phasewright::report
