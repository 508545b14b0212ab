#include "app/commands/terminal_lines.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>

#include "core/quantity/text.hpp"
#include "core/report/wording.hpp"

namespace phasewright::commands {

using report::PointState;

namespace {

constexpr std::size_t state_columns = 8;  // "doubtful"
constexpr std::size_t probability_columns = 8;
constexpr std::size_t gap = 2;

// Bytes of the well-formed UTF-8 character at the front; 0 when it is broken.
std::size_t bytes_of_character(std::string_view text) {
    auto const lead = static_cast<unsigned char>(text.front());
    if (lead < 0x80) return 1;
    std::size_t const size = lead >= 0xf0 && lead < 0xf5 ? 4 : lead >= 0xe0 ? 3 : lead >= 0xc2 ? 2 : 0;
    if (size == 0 || lead >= 0xf5 || text.size() < size) return 0;
    for (std::size_t k = 1; k < size; ++k)
        if ((static_cast<unsigned char>(text[k]) & 0xc0U) != 0x80U) return 0;
    return size;
}

std::size_t columns_of_character(std::string_view one) {
    if (one.size() == 1) return 1;
    auto const lead = static_cast<unsigned char>(one[0]);
    auto const second = static_cast<unsigned char>(one[1]);
    if (lead == 0xcc || (lead == 0xcd && second < 0xb0)) return 0;  // combining marks
    bool const wide = lead == 0xf0 || (lead >= 0xe3 && lead <= 0xed) || (lead == 0xe1 && second < 0x86);
    return wide ? 2 : 1;
}

// Direction marks and the control characters behind 0x7f.
bool steers(std::string_view one) {
    if (one.size() == 1) return static_cast<unsigned char>(one[0]) < 0x20 || one[0] == 0x7f;
    auto const byte = [&](std::size_t k) { return static_cast<unsigned char>(one[k]); };
    if (byte(0) == 0xc2 && byte(1) < 0xa0) return true;
    if (one.size() != 3 || byte(0) != 0xe2) return false;
    return (byte(1) == 0x80 &&
            ((byte(2) >= 0xaa && byte(2) <= 0xae) || byte(2) == 0x8e || byte(2) == 0x8f)) ||
           (byte(1) == 0x81 && byte(2) >= 0xa6 && byte(2) <= 0xa9);
}

std::string padded(std::string text, std::size_t width) {
    auto const used = columns_of(text);
    if (used < width) text.append(width - used, ' ');
    return text;
}

std::string cut(std::string_view text, std::size_t width) {
    if (columns_of(text) <= width) return std::string(text);
    std::string kept;
    std::size_t used = 0;
    while (!text.empty()) {
        auto const one = text.substr(0, std::max<std::size_t>(bytes_of_character(text), 1));
        if (used + columns_of_character(one) + 1 > width) break;
        used += columns_of_character(one);
        kept += one;
        text.remove_prefix(one.size());
    }
    return kept + "\u2026";
}

std::string bold(std::string const& text, TerminalStyle const& style) {
    return style.weight ? "\x1b[1m" + text + "\x1b[22m" : text;
}

// Only where one class is believed; what cannot be told yet names its likeliest class on a line of its own.
std::string probability_of(report::PointSheet const& sheet) {
    if (report::certainty(sheet).empty() || !report::likeliest(sheet).empty()) return {};
    double const p = sheet.verdict->classes.front().probability;
    if (p > 0.9995) return ">99.9 %";
    return quantity::fixed(100.0 * p, 1) + " %";
}

// A number and its unit stay on one line.
std::string together(std::string text) {
    for (std::string_view const unit : {" %", " A", " V", " kW", " W", " kvar", " s"})
        for (auto at = text.find(unit); at != std::string::npos; at = text.find(unit, at + 1)) {
            auto const after = at + unit.size();
            bool const ends =
                after == text.size() || std::string_view{" .,;:)?"}.find(text[after]) != std::string::npos;
            if (at > 0 && text[at - 1] >= '0' && text[at - 1] <= '9' && ends) text.replace(at, 1, "\u00a0");
        }
    return text;
}

// What stops or must be mended. The finding that is the headline itself is not said twice.
std::vector<diagnosis::Finding> findings_to_say(report::PointSheet const& sheet) {
    std::vector<diagnosis::Finding> kept;
    auto const findings = report::findings_of(sheet);
    for (std::size_t k = 0; k < findings.size(); ++k) {
        bool const is_headline = k == 0 && !sheet.verdict;
        bool const is_stop = findings[k].severity == diagnosis::Severity::stop;
        if (is_stop || (findings[k].severity == diagnosis::Severity::mend && !is_headline))
            kept.push_back(findings[k]);
    }
    return kept;
}

bool names_a_terminal(std::string_view move, plan::TerminalNames const& terminals) {
    auto const named = [&](std::string const& name) {
        if (name.empty()) return false;
        for (auto at = move.find(name); at != std::string_view::npos; at = move.find(name, at + 1)) {
            auto const is_word = [&](std::size_t k) {
                return std::isalnum(static_cast<unsigned char>(move[k])) != 0;
            };
            auto const after = at + name.size();
            if ((at == 0 || !is_word(at - 1)) && (after == move.size() || !is_word(after))) return true;
        }
        return false;
    };
    return std::ranges::any_of(terminals.voltage, named) ||
           std::ranges::any_of(terminals.current,
                               [&](auto const& pair) { return named(pair.s1) || named(pair.s2); });
}

// The move that touches a terminal; the whole sequence with its proofs stands in the report.
std::string advice(report::PointSheet const& sheet) {
    if (report::has_stop(sheet)) return {};
    auto const moves = report::repair_of(sheet);
    if (!moves.empty()) {
        auto const terminals = sheet.readings ? sheet.readings->terminals : plan::TerminalNames{};
        auto const touching = std::ranges::find_if(
            moves, [&](auto const& move) { return names_a_terminal(move.move, terminals); });
        auto const& shown = touching == moves.end() ? moves.front() : *touching;
        std::string text = "Repair";
        if (moves.size() > 1)
            text +=
                ", move " + std::to_string(&shown - moves.data() + 1) + " of " + std::to_string(moves.size());
        text += ": " + report::closed(shown.move);
        return text;
    }
    bool const says_test = sheet.verdict && sheet.verdict->state == diagnosis::State::unproven &&
                           sheet.verdict->next_test && !sheet.verdict->next_test->what.empty();
    return says_test ? "Next: " + report::closed(sheet.verdict->next_test->what) : std::string{};
}

}  // namespace

std::string printable(std::string_view text) {
    std::string out;
    while (!text.empty()) {
        auto const size = bytes_of_character(text);
        if (size > 0) {
            auto const one = text.substr(0, size);
            if (one == "\n" || one == "\t")
                out += ' ';
            else if (!steers(one))
                out += one;
        }
        text.remove_prefix(std::max<std::size_t>(size, 1));
    }
    return out;
}

std::size_t columns_of(std::string_view text) {
    std::size_t columns = 0;
    while (!text.empty()) {
        auto const size = std::max<std::size_t>(bytes_of_character(text), 1);
        columns += columns_of_character(text.substr(0, size));
        text.remove_prefix(size);
    }
    return columns;
}

std::vector<std::string> wrapped(std::string_view text, std::size_t width) {
    std::vector<std::string> lines;
    std::string line;
    std::size_t used = 0;
    auto const finish = [&] {
        if (!line.empty()) lines.push_back(line);
        line.clear();
        used = 0;
    };
    while (!text.empty()) {
        auto const space = std::min(text.find(' '), text.size());
        auto word = text.substr(0, space);
        text.remove_prefix(std::min(space + 1, text.size()));
        auto const columns = columns_of(word);
        if (used > 0 && used + 1 + columns > width) finish();
        if (used > 0) line += ' ', ++used;
        while (!word.empty()) {
            auto const one = word.substr(0, std::max<std::size_t>(bytes_of_character(word), 1));
            if (used + columns_of_character(one) > width) finish();
            line += one;
            used += columns_of_character(one);
            word.remove_prefix(one.size());
        }
    }
    finish();
    return lines;
}

std::size_t name_columns(std::vector<plan::MeteringPoint> const& points, TerminalStyle const& style) {
    std::size_t widest = 5;
    for (auto const& point : points)
        widest = std::max(widest, columns_of(printable(point.name.empty() ? point.id : point.name)));
    return std::min(widest, style.width / 4);
}

std::string point_lines(report::PointSheet const& sheet, std::size_t name_width, TerminalStyle const& style) {
    auto const indent = name_width + gap + state_columns + gap;
    auto const width = std::max<std::size_t>(style.width, indent + gap + probability_columns + 20) - indent;
    auto const room = width - gap - probability_columns;
    auto const name = printable(sheet.point.name.empty() ? sheet.point.id : sheet.point.name);
    auto const state = report::state_of(sheet);
    auto const word = padded(std::string(report::word_of(state)), state_columns);
    auto const said = wrapped(together(printable(report::headline(sheet))), room);

    std::string text = padded(cut(name, name_width), name_width + gap);
    text += (state == PointState::wrong ? bold(word, style) : word) + std::string(gap, ' ');
    auto const probability = probability_of(sheet);
    for (std::size_t k = 0; k < said.size(); ++k) {
        if (k > 0) text += std::string(indent, ' ');
        bool const with_number = k == 0 && !probability.empty();
        text += with_number ? padded(said[k], width - columns_of(probability)) + probability : said[k];
        text += "\n";
    }
    for (auto const& line : wrapped(together(printable(report::likeliest(sheet))), width))
        text += std::string(indent, ' ') + line + "\n";
    for (auto const& finding : findings_to_say(sheet)) {
        auto lines = wrapped(together(std::string(diagnosis::name_of(finding.severity)) + ": " +
                                      printable(report::closed(finding.text))),
                             width);
        bool const stop = finding.severity == diagnosis::Severity::stop;
        if (stop && !lines.empty()) lines[0] = bold(lines[0].substr(0, 4), style) + lines[0].substr(4);
        for (auto const& line : lines) text += std::string(indent, ' ') + line + "\n";
    }
    for (auto const& line : wrapped(together(printable(advice(sheet))), width))
        text += std::string(indent, ' ') + line + "\n";
    return text;
}

std::string progress_text(ProgressStep const& step, std::size_t width) {
    constexpr std::size_t bar = 20;
    double const share = step.of == 0 ? 1.0 : static_cast<double>(step.at) / static_cast<double>(step.of);
    auto const filled = std::min(bar, static_cast<std::size_t>(share * static_cast<double>(bar)));
    std::string text = padded(std::string(step.doing), 8) + "  " + std::string(filled, '#') +
                       std::string(bar - filled, '.') + "  ";
    text += std::to_string(step.at) + " of " + std::to_string(step.of);
    if (step.at > 0 && step.at < step.of) {
        double const left =
            step.elapsed_s * static_cast<double>(step.of - step.at) / static_cast<double>(step.at);
        if (std::isfinite(left)) text += "  " + quantity::fixed(std::ceil(left), 0) + " s left";
    }
    text += "  " + printable(step.name);
    return cut(text, width);
}

}  // namespace phasewright::commands
