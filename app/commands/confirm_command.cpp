#include "app/commands/confirm_command.hpp"

#include <algorithm>
#include <map>
#include <ostream>
#include <set>

#include "app/commands/confirm_words.hpp"
#include "app/commands/diagnose_command.hpp"
#include "app/commands/priors_file.hpp"
#include "app/commands/terminal_lines.hpp"
#include "app/commands/whole_file.hpp"
#include "core/diagnosis/newer.hpp"
#include "core/readings/check.hpp"

namespace phasewright::commands {

using quantity::Fault;

namespace {
constexpr std::size_t most_bytes = 1'000'000;  // of a line, as in diagnose

struct Usable {
    std::size_t line = 0;
    ReadLine read;
};
struct Unusable {
    std::size_t line = 0;
    LineFault fault;
};

// One of the two files: its sets by id in their order, and the lines that cannot be used.
struct ReadingFile {
    std::string name;
    std::vector<Usable> usable;
    std::vector<Unusable> unusable;
    std::map<std::string, std::size_t> at;  // id to place in `usable`
    std::set<std::string> ids_unusable;
};

void take_line(ReadingFile& file, std::size_t number, std::string_view text) {
    auto const refuse = [&](LineFault fault) {
        if (fault.id && !file.at.contains(*fault.id)) file.ids_unusable.insert(*fault.id);
        file.unusable.push_back({number, std::move(fault)});
    };
    if (text.size() > most_bytes)
        return refuse(
            {{},
             {},
             {"the line is too long", "", "more than " + std::to_string(most_bytes) + " bytes",
              "at most " + std::to_string(most_bytes) + " bytes a line", "send one reading set a line"}});
    auto read = read_line(text);
    if (!read) return refuse(read.error());
    auto const id = read->set.id;
    if (file.at.contains(id) || file.ids_unusable.contains(id))
        return refuse({id,
                       read->carried,
                       {"an earlier line has the same id", "id", id, "an id of its own for every line",
                        "keep one line a meter in each of the two files"}});
    if (auto const fault = readings::check(read->set)) return refuse({id, read->carried, *fault});
    file.at[id] = file.usable.size();
    file.usable.push_back({number, std::move(*read)});
}

std::expected<ReadingFile, Fault> reading_file(std::string const& name) {
    auto const text = text_of(name, "reading sets");
    if (!text) return std::unexpected(text.error());
    ReadingFile file{.name = name};
    std::string_view rest = *text;
    for (std::size_t number = 1; !rest.empty(); ++number) {
        auto const end = std::min(rest.find('\n'), rest.size());
        auto const line = rest.substr(0, end);
        rest.remove_prefix(std::min(end + 1, rest.size()));
        if (line.find_first_not_of(" \t\r\f\v") != std::string_view::npos) take_line(file, number, line);
    }
    return file;
}

Unusable without_partner(Usable const& one, std::string const& other_file) {
    auto const& id = one.read.set.id;
    return {
        one.line,
        {id,
         one.read.carried,
         {"this id has no partner in " + other_file, "id", id, "the same id once in each of the two files",
          "read that meter before and after the move under one id, or take the line out"}}};
}

// Says what could not be judged: a line of JSON among the others, or a sentence for people.
struct Sayer {
    bool json;
    std::ostream& out;
    std::ostream& err;
    void operator()(std::string const& file, Unusable const& one) const {
        if (json) {
            out << unusable_json(file, one.line, one.fault) << '\n';
            return;
        }
        auto fault = one.fault.fault;
        fault.where = file + ":" + std::to_string(one.line) + (one.fault.id ? " " + *one.fault.id : "") +
                      (fault.where.empty() ? "" : " " + fault.where);
        err << printable(to_sentence(fault)) << '\n';
    }
};

std::size_t name_width_of(ReadingFile const& file) {
    constexpr std::size_t most = 20;
    std::size_t widest = 5;
    for (auto const& one : file.usable) widest = std::max(widest, columns_of(printable(one.read.set.id)));
    return std::min(widest, most);
}

int judge_pairs(ReadingFile const& before, ReadingFile const& after, ConfirmOptions const& options,
                diagnosis::PriorSets const& priors, std::ostream& out, std::ostream& err) {
    Sayer const say{options.json, out, err};
    diagnosis::Diagnoser diagnoser(priors);
    auto const moved_at = options.moved_at.empty() ? std::nullopt : std::optional{options.moved_at};
    bool all = before.unusable.empty() && after.unusable.empty();
    bool any = false;
    auto const name_width = name_width_of(after);
    for (auto const& one : before.unusable) say(before.name, one);
    for (auto const& one : after.unusable) say(after.name, one);
    for (auto const& one : before.usable) {
        auto const& id = one.read.set.id;
        if (after.at.contains(id) || after.ids_unusable.contains(id)) continue;
        say(before.name, without_partner(one, after.name));
        all = false;
    }
    for (auto const& one : after.usable) {
        auto const& set = one.read.set;
        auto const partner = before.at.find(set.id);
        if (partner == before.at.end()) {
            if (!before.ids_unusable.contains(set.id)) say(after.name, without_partner(one, before.name));
            all = false;
            continue;
        }
        auto const& was = before.usable[partner->second].read.set;
        auto const judged = confirm({was, diagnoser.diagnose(was), set, moved_at}, diagnoser, priors);
        if (options.json)
            out << confirmation_json(judged, readings::model_of(set), options.moved_at, one.read.carried)
                << '\n';
        else
            out << (any ? "\n" : "") << confirmation_lines(judged, name_width);
        out.flush();
        any = true;
    }
    if (any && !options.json) out << '\n' << confirmation_foot();
    return all ? all_answered : some_not_answered;
}

std::optional<Fault> fault_in(std::string const& moved_at) {
    if (moved_at.empty()) return std::nullopt;
    bool const is_time = readings::seconds_of(moved_at).has_value();
    if (is_time && diagnosis::tells_offset(moved_at)) return std::nullopt;
    return Fault{is_time ? "the moment of the move does not tell its offset from UTC" : "this is not a time",
                 "--moved-at", moved_at, "ISO 8601 with offset: 2026-05-20T10:20:00+02:00",
                 "write date, T, time and the offset to UTC"};
}
}  // namespace

int confirm_command(ConfirmOptions const& options, std::ostream& out, std::ostream& err) {
    auto const refuse = [&](Fault const& fault) {
        err << "phasewright confirm: " << printable(to_sentence(fault)) << '\n';
        return some_not_answered;
    };
    if (auto const fault = fault_in(options.moved_at)) return refuse(*fault);
    auto const priors = options.priors_file ? priors_from(*options.priors_file) : diagnosis::built_in_sets();
    if (!priors) return refuse(priors.error());
    auto const before = reading_file(options.before_file);
    if (!before) return refuse(before.error());
    auto const after = reading_file(options.after_file);
    if (!after) return refuse(after.error());
    return judge_pairs(*before, *after, options, *priors, out, err);
}

}  // namespace phasewright::commands
