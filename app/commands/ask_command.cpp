#include "app/commands/ask_command.hpp"

#include <expected>
#include <istream>
#include <ostream>
#include <string_view>
#include <vector>

#include <fmt/core.h>

#include "app/commands/diagnose_command.hpp"
#include "app/commands/priors_file.hpp"
#include "app/commands/reading_line_writer.hpp"
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

// The line that is to be talked about.
std::expected<readings::ReadingSet, Fault> set_of(AskOptions const& options) {
    if (options.file == "-")
        return std::unexpected(Fault{"answers and readings cannot both come from standard input", "FILE", "-", "a file of JSON lines",
                                     "write the readings into a file first"});
    auto const text = text_of(options.file, "reading sets");
    if (!text) return std::unexpected(text.error());
    std::optional<readings::ReadingSet> found;
    std::vector<std::string> ids;
    for (std::size_t at = 0; at < text->size();) {
        auto const end = std::min(text->find('\n', at), text->size());
        auto const line = trimmed(std::string_view(*text).substr(at, end - at));
        at = end + 1;
        if (line.empty()) continue;
        auto read = read_line(line);
        if (!read && (options.id.empty() || read.error().id == options.id)) return std::unexpected(read.error().fault);
        if (!read) continue;
        ids.push_back(read->set.id);
        if (!found && (options.id.empty() || read->set.id == options.id)) found = std::move(read->set);
    }
    if (options.id.empty() && ids.size() > 1)
        return std::unexpected(Fault{"the file holds several reading sets", options.file, std::to_string(ids.size()),
                                     quantity::joined(ids, ", "), "say which one with --id"});
    if (!found)
        return std::unexpected(Fault{"no reading set has this id", options.file, options.id, quantity::joined(ids, ", "),
                                     "give one of them with --id"});
    if (auto const fault = readings::check(*found)) return std::unexpected(*fault);
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
        for (auto const& one : verdict.disagreements) paragraph("these readings do not agree with each other: " + one.field + " is " + one.found + ", expected " + one.expected);
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
        paragraph("type " + what_to_type(test) + "; skip when it cannot be made; quit to end");
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

// One answer, asked for until it can be one. Empty: the talk is over.
std::optional<readings::TestAnswer> asked(diagnosis::NextTest const& test, Talk& talk, std::istream& in) {
    std::string typed;
    for (talk.prompt(); std::getline(in, typed); talk.prompt()) {
        auto const text = trimmed(typed);
        if (text == "quit" || text == "q") return std::nullopt;
        if (text == "skip" || text == "s") return not_made(test);
        auto answer = typed_answer(test, text);
        if (answer) return *answer;
        talk.paragraph(to_sentence(answer.error()));
    }
    return std::nullopt;
}

// The talk itself; the set takes in the answers.
void ask_until_settled(readings::ReadingSet& set, diagnosis::Diagnoser& diagnoser, Talk& talk, std::istream& in) {
    auto verdict = diagnoser.diagnose(set);
    talk.verdict(verdict);
    while (verdict.next_test) {
        talk.test(*verdict.next_test);
        auto const answer = asked(*verdict.next_test, talk, in);
        if (!answer) break;
        set.tests.push_back(*answer);
        if (auto const fault = readings::check(set)) {
            talk.paragraph(to_sentence(*fault));
            set.tests.pop_back();
            continue;
        }
        verdict = diagnoser.diagnose(set);
        talk.verdict(verdict);
    }
    talk.end(verdict);
}
}  // namespace

int ask_command(AskOptions const& options, std::istream& in, std::ostream& out, std::ostream& err) {
    auto const refuse = [&](Fault const& fault) {
        err << "phasewright diagnose --ask: " << to_sentence(fault) << '\n';
        return some_not_answered;
    };
    auto set = set_of(options);
    if (!set) return refuse(set.error());
    auto priors = options.priors_file ? priors_from(*options.priors_file) : diagnosis::built_in_sets();
    if (!priors) return refuse(priors.error());
    diagnosis::Diagnoser diagnoser(*priors);
    Talk talk(options, out);
    ask_until_settled(*set, diagnoser, talk, in);
    auto const line = line_of(*set);
    if (options.save_file) {
        if (auto const written = write_whole(*options.save_file, line + "\n", "readings with their answers", "name another file with --save"); !written) {
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
