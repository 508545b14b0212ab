#include "app/commands/ask_command.hpp"

#include <expected>
#include <istream>
#include <ostream>
#include <string_view>
#include <vector>

#include <fmt/core.h>

#include "app/commands/ask_kept.hpp"
#include "app/commands/diagnose_command.hpp"
#include "app/commands/priors_file.hpp"
#include "app/commands/reading_lines.hpp"
#include "app/commands/terminal_lines.hpp"
#include "app/commands/typed_answer.hpp"
#include "app/commands/whole_file.hpp"
#include "core/diagnosis/diagnose.hpp"
#include "core/quantity/text.hpp"
#include "core/readings/check.hpp"

namespace phasewright::commands {

namespace {
using quantity::Fault;

std::string_view trimmed(std::string_view text) {
    auto const first = text.find_first_not_of(" \t\r\n");
    if (first == std::string_view::npos) return {};
    return text.substr(first, text.find_last_not_of(" \t\r\n") - first + 1);
}

struct Begun {
    readings::ReadingSet set;
    std::string line;  // as it stood in the file, and what was added
};

// The line that is to be talked about.
std::expected<Begun, Fault> begun_with(AskOptions const& options) {
    if (options.file == "-")
        return std::unexpected(Fault{"answers and readings cannot both come from standard input", "FILE", "-",
                                     "a file of JSON lines", "write the readings into a file first"});
    auto const text = text_of(options.file, "reading sets");
    if (!text) return std::unexpected(text.error());
    std::optional<Begun> found;
    std::vector<std::string> ids;
    for (std::size_t at = 0; at < text->size();) {
        auto const end = std::min(text->find('\n', at), text->size());
        auto const line = trimmed(std::string_view(*text).substr(at, end - at));
        at = end + 1;
        if (line.empty()) continue;
        auto read = read_line(line);
        if (!read && (options.id.empty() || read.error().id == options.id))
            return std::unexpected(read.error().fault);
        if (!read) continue;
        ids.push_back(read->set.id);
        if (!found && (options.id.empty() || read->set.id == options.id))
            found = Begun{std::move(read->set), std::string(line)};
    }
    if (options.id.empty() && ids.size() > 1)
        return std::unexpected(Fault{"the file holds several reading sets", options.file,
                                     std::to_string(ids.size()), quantity::joined(ids, ", "),
                                     "say which one with --id"});
    if (!found)
        return std::unexpected(Fault{"no reading set has this id", options.file, options.id,
                                     quantity::joined(ids, ", "), "give one of them with --id"});
    if (auto const fault = readings::check(found->set)) return std::unexpected(*fault);
    return *found;
}

class Talk {
public:
    Talk(AskOptions const& options, std::ostream& out) : width_(options.width), out_(out) {}

    void paragraph(std::string const& text, std::string const& mark = "") {
        bool first = true;
        for (auto const& line : wrapped(printable(text), width_ - mark.size())) {
            out_ << (first ? mark : std::string(mark.size(), ' ')) << line << '\n';
            first = false;
        }
    }
    void verdict(diagnosis::Verdict const& verdict) {
        out_ << '\n';
        for (auto const& finding : verdict.findings)
            if (finding.severity == diagnosis::Severity::stop) paragraph(finding.text, "STOP  ");
        for (auto const& one : verdict.disagreements)
            paragraph("these readings do not agree with each other: " + one.field + " is " + one.found +
                      ", expected " + one.expected);
        std::size_t shown = 0;
        for (auto const& found : verdict.classes) {
            if (shown++ == 3) break;
            paragraph(found.in_words, fmt::format("{:5.1f} %  ", 100.0 * found.probability));
        }
    }
    void test(diagnosis::NextTest const& test) {
        out_ << '\n';
        for (auto const& caution : test.cautions) paragraph(caution, "mind  ");
        paragraph(test.what + " (" + test.who + fmt::format(", {:.0f} min)", test.minutes), "test  ");
        for (auto const& outcome : test.outcomes)
            paragraph(outcome.if_seen + ": " + outcome.then, fmt::format("  {:3.0f} %  ", 100.0 * outcome.p));
        paragraph("type " + what_to_type(test) +
                  "; skip when it cannot be made; quit to end. A new reading of the meter can be typed "
                  "at any time as one JSON object, as it stands among the snapshots of a reading set");
    }
    void prompt() { out_ << "> " << std::flush; }
    void end(diagnosis::Verdict const& verdict) {
        out_ << '\n';
        if (verdict.classes.empty()) return;
        auto const& best = verdict.classes.front();
        if (!verdict.next_test) paragraph("No further test is proposed.");
        if (!best.wirings.empty())
            for (auto const& move : best.wirings.front().repair) {
                for (auto const& caution : move.cautions) paragraph(caution, "mind  ");
                if (!move.before.empty()) paragraph(move.before, "first ");
                paragraph(move.move, "move  ");
                paragraph(move.then, "then  ");
            }
    }

private:
    std::size_t width_;
    std::ostream& out_;
};

// Takes one typed line into the set: an answer, or a new reading. False: it was neither, and why was said.
bool taken(std::string_view text, diagnosis::NextTest const& test, Begun& begun, Talk& talk) {
    auto const refuse = [&](Fault const& fault) {
        talk.paragraph(to_sentence(fault));
        return false;
    };
    if (text.starts_with('{')) {
        auto line = with_snapshot(with_tests(begun.line, begun.set), text);
        if (!line) return refuse(line.error());
        begun = {read_line(*line)->set, *line};
        return true;
    }
    auto answer = text == "skip" || text == "s" ? not_made(test) : typed_answer(test, text);
    if (!answer) return refuse(answer.error());
    begun.set.tests.push_back(*answer);
    auto const fault = readings::check(begun.set);
    if (!fault) return true;
    begun.set.tests.pop_back();
    return refuse(*fault);
}

// The talk itself; the set takes in the answers.
void ask_until_settled(Begun& begun, diagnosis::Diagnoser& diagnoser, Talk& talk, std::istream& in) {
    auto verdict = diagnoser.diagnose(begun.set);
    talk.verdict(verdict);
    std::string typed;
    bool asked = false;
    while (verdict.next_test) {
        if (!asked) talk.test(*verdict.next_test);
        asked = true;
        talk.prompt();
        if (!std::getline(in, typed)) break;
        auto const text = trimmed(typed);
        if (text == "quit" || text == "q") break;
        if (!taken(text, *verdict.next_test, begun, talk)) continue;
        verdict = diagnoser.diagnose(begun.set);
        talk.verdict(verdict);
        asked = false;
    }
    talk.end(verdict);
}
}  // namespace

int ask_command(AskOptions const& options, std::istream& in, std::ostream& out, std::ostream& err) {
    auto const refuse = [&](Fault const& fault) {
        err << "phasewright diagnose --ask: " << to_sentence(fault) << '\n';
        return some_not_answered;
    };
    auto begun = begun_with(options);
    if (!begun) return refuse(begun.error());
    auto priors = options.priors_file ? priors_from(*options.priors_file) : diagnosis::built_in_sets();
    if (!priors) return refuse(priors.error());
    diagnosis::Diagnoser diagnoser(*priors);
    Talk talk(options, out);
    ask_until_settled(*begun, diagnoser, talk, in);
    auto const line = with_tests(begun->line, begun->set);
    if (options.save_file) {
        if (auto const written = write_whole(*options.save_file, line + "\n", "readings with their answers",
                                             "name another file with --save");
            !written) {
            out << line << '\n';  // nothing that was typed is lost
            return refuse(written.error());
        }
        talk.paragraph("The readings with the answers are in " + options.save_file->string() + ".");
    } else {
        out << '\n' << line << '\n';
    }
    return all_answered;
}

}  // namespace phasewright::commands
