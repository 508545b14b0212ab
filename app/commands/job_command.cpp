#include "app/commands/job_command.hpp"

#include <map>
#include <ostream>

#include <fmt/format.h>

#include "app/commands/job_parts.hpp"
#include "records/schema/text_form.hpp"
#include "records/store/sqlite_store.hpp"

namespace phasewright::commands {

namespace {

void say_whether_damaged(store::Store& job, store::Contents const& contents, std::ostream& err) {
    if (auto const why = job.read_only_because()) err << "read-only: " << on_a_line(*why) << '\n';
    for (auto const& unreadable : contents.unreadable)
        err << "cannot be read: " << on_a_line(unreadable) << '\n';
}

std::string said_of(schema::Draft const& said) {
    std::string line;
    if (!said.point.empty()) line += "  point " + on_a_line(said.point);
    if (!said.by.empty()) line += "  by " + on_a_line(said.by);
    for (auto const& blob : said.blobs)
        line += fmt::format("  file {} ({}, {} bytes)", on_a_line(blob.name), blob.type, blob.size);
    for (auto const& field : said.fields) {
        auto value = on_a_line(field.value);
        if (value.size() > 100) value = fmt::format("({} bytes)", field.value.size());
        line += "  " + field.name + " " + value;
    }
    return line;
}

}  // namespace

int job_new_command(JobOptions const& options, std::ostream& out, std::ostream& err) {
    auto const device = device_in(options);
    if (!device) return refused(device.error(), err);
    std::optional<std::string> plan;
    if (options.plan_file) {
        auto text = canonical_plan(*options.plan_file);
        if (!text) return refused(text.error(), err);
        plan = std::move(*text);
    }
    auto const said = said_in(options);
    auto const job = store::create_job({options.job, {}}, {schema::drawn_hex(16), options.name, said.time});
    if (!job) return refused(job.error(), err);
    if (plan) {
        auto const added = store::change_plan(**job, *device, *plan, said);
        if (!added) return refused(added.error(), err);
    }
    out << fmt::format("{}: the job {}, id {}{}\n", options.job, on_a_line(options.name), (*job)->job().id,
                       plan ? ", with its plan" : "");
    return 0;
}

int job_show_command(JobOptions const& options, std::ostream& out, std::ostream& err) {
    auto const job = job_in(options);
    if (!job) return refused(job.error(), err);
    auto const contents = (*job)->contents();
    if (!contents) return refused(contents.error(), err);
    say_whether_damaged(**job, *contents, err);
    out << fmt::format("job      {}\nid       {}\nmade at  {}\n", on_a_line((*job)->job().name),
                       on_a_line((*job)->job().id), on_a_line((*job)->job().made_at));
    struct Of {
        std::string name;
        schema::Kept const* head = nullptr;
    };
    std::map<std::string, Of> devices;
    std::map<std::string, std::size_t> kinds;
    for (auto const& kept : contents->entries) {
        auto& of = devices[kept.device];
        if (of.head == nullptr || kept.number > of.head->number) of.head = &kept;
        ++kinds[kept.kind];
        if (kept.kind != "device") continue;
        if (auto const entry = schema::entry_of(kept.text))
            of.name = schema::field_of(entry->said, "name").value_or("");
    }
    for (auto const& [id, of] : devices)
        out << fmt::format("device   {}  {}: {} entries, head {}\n", on_a_line(id), on_a_line(of.name),
                           of.head->number, short_hash(of.head->hash));
    for (auto const& [kind, count] : kinds) out << fmt::format("         {} {}\n", count, on_a_line(kind));
    auto const history = schema::plan_history(contents->entries);
    if (history.latest.size() > 1)
        out << "plan     changed apart in two copies; phasewright job settle\n";
    else if (history.line.empty())
        out << "plan     none\n";
    else
        out << fmt::format("plan     version {}, {}, {}  {}\n", history.line.size(), history.line.back().time,
                           on_a_line(history.line.back().by), on_a_line(history.line.back().why));
    return 0;
}

int job_log_command(JobOptions const& options, std::ostream& out, std::ostream& err) {
    auto const job = job_in(options);
    if (!job) return refused(job.error(), err);
    auto const contents = (*job)->contents();
    if (!contents) return refused(contents.error(), err);
    say_whether_damaged(**job, *contents, err);
    for (auto const& kept : contents->entries) {
        auto const entry = schema::entry_of(kept.text);
        if (!entry) {
            out << fmt::format("(no entry)  {} {}  {}\n", on_a_line(kept.device).substr(0, 8), kept.number,
                               short_hash(kept.hash));
            continue;
        }
        out << fmt::format("{}  {} {}  {}  {}{}\n", entry->said.time, kept.device.substr(0, 8), kept.number,
                           short_hash(kept.hash), schema::name_of(entry->said.kind), said_of(entry->said));
    }
    return 0;
}

int job_copy_command(JobOptions const& options, std::ostream& out, std::ostream& err) {
    auto const copied = store::copy_job(options.job, options.other);
    if (!copied) return refused(copied.error(), err);
    out << options.other << ": a whole copy\n";
    return 0;
}

int merge_command(JobOptions const& options, std::ostream& out, std::ostream& err) {
    auto const into = job_in(options);
    if (!into) return refused(into.error(), err);
    auto const from = store::open_job({options.other, {}});
    if (!from) return refused(from.error(), err);
    auto const united = store::unite(**into, **from);
    if (!united) return refused(united.error(), err);
    out << fmt::format("{} entries and {} files were new\n", united->entries, united->blobs);
    auto const history = store::plan_history_of(**into);
    if (!history) return refused(history.error(), err);
    if (history->latest.size() < 2) return 0;
    out << "the plan was changed apart; nobody picks one for you:\n";
    for (auto const& hash : history->latest) {
        auto const* const version = schema::version_of(*history, hash);
        out << fmt::format("  {}  {}  {}  {}\n", short_hash(hash), version->time, on_a_line(version->by),
                           on_a_line(version->why));
    }
    out << "write the plan that holds, then: phasewright job settle JOB PLAN\n";
    return 0;
}

}  // namespace phasewright::commands
