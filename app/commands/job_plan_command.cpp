#include <ostream>

#include <fmt/format.h>

#include "app/commands/job_command.hpp"
#include "app/commands/job_parts.hpp"
#include "app/commands/whole_file.hpp"

namespace phasewright::commands {

using quantity::Fault;

namespace {

std::expected<std::string, Fault> version_text(store::Store& job, int number) {
    auto const history = store::plan_history_of(job);
    if (!history) return std::unexpected(history.error());
    auto const& line = history->line.empty() ? history->all : history->line;
    if (number < 1 || static_cast<std::size_t>(number) > line.size())
        return std::unexpected(Fault{"there is no such version of the plan",
                                     "--version",
                                     std::to_string(number),
                                     fmt::format("1 to {}", line.size()),
                                     {}});
    auto const text = job.blob(line[static_cast<std::size_t>(number) - 1].text);
    if (!text) return std::unexpected(text.error());
    if (!*text)
        return std::unexpected(
            Fault{"the text of that version is missing", "plan", {}, {}, "phasewright verify says more"});
    return **text;
}

int list_versions(store::Store& job, std::ostream& out, std::ostream& err) {
    auto const history = store::plan_history_of(job);
    if (!history) return refused(history.error(), err);
    int number = 0;
    for (auto const& version : history->line.empty() ? history->all : history->line)
        out << fmt::format("{}  {}  {}  {}  {}  {}\n", ++number, version.time,
                           schema::name_of(version.action), short_hash(version.text), on_a_line(version.by),
                           on_a_line(version.why));
    if (history->latest.size() > 1) out << "changed apart in two copies; phasewright job settle\n";
    return 0;
}

int said_whether(std::expected<schema::Hash, Fault> const& added, std::string_view what, std::ostream& out,
                 std::ostream& err) {
    if (!added) return refused(added.error(), err);
    out << fmt::format("{}, head {}\n", what, short_hash(*added));
    return 0;
}

}  // namespace

int job_plan_command(JobOptions const& options, std::ostream& out, std::ostream& err) {
    auto const job = job_in(options);
    if (!job) return refused(job.error(), err);
    if (options.history) return list_versions(**job, out, err);
    if (options.plan_file) {
        auto const device = device_in(options);
        if (!device) return refused(device.error(), err);
        auto const text = canonical_plan(*options.plan_file);
        if (!text) return refused(text.error(), err);
        return said_whether(store::change_plan(**job, *device, *text, said_in(options)),
                            "a new version of the plan", out, err);
    }
    auto const text = options.version ? version_text(**job, *options.version) : store::current_plan(**job);
    if (!text) return refused(text.error(), err);
    if (!options.out) {
        out << *text;
        return 0;
    }
    auto const written = write_whole(*options.out, *text, "plan", "look at the folder and your rights");
    return written ? 0 : refused(written.error(), err);
}

int job_undo_command(JobOptions const& options, bool redo, std::ostream& out, std::ostream& err) {
    auto const job = job_in(options);
    if (!job) return refused(job.error(), err);
    auto const device = device_in(options);
    if (!device) return refused(device.error(), err);
    auto const added = redo ? store::redo_plan(**job, *device, said_in(options))
                            : store::undo_plan(**job, *device, said_in(options));
    return said_whether(added, redo ? "redone as a new version" : "undone as a new version", out, err);
}

int job_settle_command(JobOptions const& options, std::ostream& out, std::ostream& err) {
    auto const job = job_in(options);
    if (!job) return refused(job.error(), err);
    auto const device = device_in(options);
    if (!device) return refused(device.error(), err);
    auto const text = canonical_plan(options.file);
    if (!text) return refused(text.error(), err);
    return said_whether(store::settle_plan(**job, *device, *text, said_in(options)), "settled", out, err);
}

}  // namespace phasewright::commands
