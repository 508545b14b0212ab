#include "app/commands/diagnose_command.hpp"

#include <fstream>
#include <istream>
#include <ostream>
#include <unordered_set>

#include "app/commands/priors_file.hpp"
#include "app/commands/reading_lines.hpp"
#include "app/commands/verdict_lines.hpp"
#include "core/diagnosis/diagnose.hpp"
#include "core/quantity/text.hpp"
#include "core/readings/check.hpp"

namespace phasewright::commands {

namespace {
constexpr std::size_t most_bytes = 1'000'000;

struct Line {
    std::string text;
    bool too_long = false;
};

// Takes one line; of a line that is too long it keeps only the beginning.
bool next_line(std::istream& in, Line& line) {
    line.text.clear();
    line.too_long = false;
    auto* const buffer = in.rdbuf();
    if (buffer == nullptr) return false;
    bool any = false;
    for (int c = buffer->sbumpc(); c != std::istream::traits_type::eof(); c = buffer->sbumpc()) {
        any = true;
        if (c == '\n') return true;
        if (line.text.size() < most_bytes)
            line.text += static_cast<char>(c);
        else
            line.too_long = true;
    }
    return any;
}

bool is_blank(std::string_view text) { return text.find_first_not_of(" \t\r\f\v") == std::string_view::npos; }

// One line answered; false when the answer is a fault.
bool answer(Line const& line, std::size_t number, diagnosis::Diagnoser& diagnoser,
            std::unordered_set<std::string>& ids, std::ostream& out) {
    auto const refuse = [&](LineFault const& fault) {
        out << fault_line(number, fault) << '\n';
        return false;
    };
    if (line.too_long)
        return refuse({{},
                       {},
                       {"the line is too long", "", "more than " + std::to_string(most_bytes) + " bytes",
                        "at most " + std::to_string(most_bytes) + " bytes a line",
                        "send one reading set a line, with fewer snapshots"}});
    auto read = read_line(line.text);
    auto const& id = read ? std::optional{read->set.id} : read.error().id;
    bool const is_new = !id || ids.insert(*id).second;
    if (!read) return refuse(read.error());
    if (!is_new)
        return refuse({id,
                       read->carried,
                       {"an earlier line has the same id", "id", *id, "an id of its own for every line",
                        "give this reading set another id"}});
    if (auto const fault = readings::check(read->set)) return refuse({id, read->carried, *fault});
    out << verdict_line(diagnoser.diagnose(read->set), readings::model_of(read->set), read->carried) << '\n';
    return true;
}
}  // namespace

int diagnose_lines(std::istream& in, std::ostream& out, diagnosis::PriorSets const& priors) {
    std::unordered_set<std::string> ids;
    diagnosis::Diagnoser diagnoser(priors);  // one for all lines: the wirings of a service are enumerated once
    Line line;
    bool all = true;
    for (std::size_t number = 1; next_line(in, line); ++number) {
        if (!line.too_long && is_blank(line.text)) continue;
        all = answer(line, number, diagnoser, ids, out) && all;
        out.flush();  // so that a reader at the other end of a pipe gets each answer at once
    }
    return all ? all_answered : some_not_answered;
}

int diagnose_command(std::string const& file, std::istream& in, std::ostream& out, std::ostream& err,
                     std::optional<std::filesystem::path> const& priors_file) {
    auto priors = diagnosis::built_in_sets();
    if (priors_file) {
        auto read = priors_from(*priors_file);
        if (!read) {
            err << "phasewright diagnose: " << to_sentence(read.error()) << '\n';
            return some_not_answered;
        }
        priors = std::move(*read);
    }
    if (file == "-") return diagnose_lines(in, out, priors);
    std::ifstream opened(file, std::ios::binary);
    // A folder opens like a file and fails at its first byte; peeking takes nothing from a pipe.
    if (opened) opened.peek();
    if (!opened && !opened.eof()) {
        quantity::Fault const fault{"the file of reading sets cannot be read", file, "",
                                    "a file of JSON lines, or -", "look at the path and its permissions"};
        err << "phasewright diagnose: " << to_sentence(fault) << '\n';
        return some_not_answered;
    }
    return diagnose_lines(opened, out, priors);
}

}  // namespace phasewright::commands
