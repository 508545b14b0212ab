#include <ostream>
#include <system_error>

#include <fmt/format.h>

#include "app/commands/intake.hpp"
#include "app/commands/job_command.hpp"
#include "app/commands/job_parts.hpp"
#include "app/commands/reading_lines.hpp"
#include "app/commands/whole_file.hpp"
#include "core/quantity/text.hpp"
#include "records/schema/text_form.hpp"

namespace phasewright::commands {

using quantity::Fault;
namespace fs = std::filesystem;

namespace {

constexpr std::uint64_t most_of_a_photo = 25ULL * 1024 * 1024;
constexpr std::uint64_t most_of_a_text = 4ULL * 1024 * 1024;
constexpr std::size_t short_note = 64UL * 1024;

struct Taken {
    schema::Draft draft;
    std::vector<store::Blob> blobs;
};

// Every line must be a reading set as docs/reference/readings.md says.
std::expected<void, Fault> are_readings(std::string_view text, std::string const& file) {
    int number = 0;
    while (!text.empty()) {
        auto const end = std::min(text.find('\n'), text.size());
        auto const line = text.substr(0, end);
        text.remove_prefix(std::min(end + 1, text.size()));
        ++number;
        if (line.empty()) continue;
        auto const read = read_line(line);
        if (read) continue;
        auto fault = read.error().fault;
        fault.where = fmt::format("{}:{} {}", file, number, fault.where);
        return std::unexpected(fault);
    }
    if (number > 0) return {};
    return std::unexpected(Fault{"the file holds no reading", file, {}, {}, {}});
}

std::expected<Taken, Fault> taken(JobOptions const& options) {
    auto const kind = schema::kind_of(options.kind);
    if (!kind || *kind == schema::Kind::plan || *kind == schema::Kind::device) {
        auto names = schema::kind_names();
        std::erase_if(names, [](std::string const& name) { return name == "plan" || name == "device"; });
        return std::unexpected(
            Fault{"the kind is not known", "--kind", options.kind, quantity::joined(names, ", "), {}});
    }
    auto const name = kept_name(options.file);
    if (!name) return std::unexpected(name.error());
    bool const photo = *kind == schema::Kind::photo;
    auto bytes = bytes_within(options.file, photo ? most_of_a_photo : most_of_a_text);
    if (!bytes) return std::unexpected(bytes.error());
    auto const said = said_in(options);
    Taken in{.draft = {.time = said.time, .kind = *kind, .by = said.by, .point = options.point}};
    std::string type = "text/plain";
    if (photo) {
        auto const image = image_of(*bytes, *name);
        if (!image) return std::unexpected(image.error());
        type = image->type;
    } else if (!schema::may_stand(*bytes)) {
        return std::unexpected(Fault{
            "the file is no text", *name, {}, "UTF-8 without control characters", "a photo is --kind photo"});
    }
    if (*kind == schema::Kind::reading)
        if (auto const read = are_readings(*bytes, *name); !read) return std::unexpected(read.error());
    if (!said.why.empty()) in.draft.fields.push_back({"why", said.why});
    if (*kind == schema::Kind::note && bytes->size() <= short_note) {
        in.draft.fields.push_back({"text", std::move(*bytes)});
        return in;
    }
    in.blobs.push_back(store::blob_of(std::move(*bytes)));
    in.draft.blobs.push_back(store::name_of(in.blobs.front(), type, *name));
    return in;
}

std::expected<std::size_t, Fault> exported(store::Store& job, store::Contents const& contents,
                                           fs::path const& folder) {
    std::error_code error;
    if (fs::exists(fs::symlink_status(folder, error)) || !fs::create_directories(folder, error))
        return std::unexpected(Fault{"the folder cannot be made, or is there already",
                                     folder.string(),
                                     error.message(),
                                     {},
                                     "name a new one"});
    constexpr auto remedy = "look at the folder and its free space";
    std::size_t files = 0;
    for (auto const& kept : contents.entries) {
        auto const stem = schema::hex_of(kept.hash);
        if (auto const done = write_whole(folder / (stem + ".entry.txt"), kept.text, "entry", remedy); !done)
            return std::unexpected(done.error());
        ++files;
        auto const entry = schema::entry_of(kept.text);
        if (!entry) continue;
        for (auto const& blob : entry->said.blobs) {
            auto const bytes = job.blob(blob.hash);
            if (!bytes || !*bytes) continue;
            auto const tail = blob.type == "image/jpeg"         ? ".jpg"
                              : blob.type == "image/png"        ? ".png"
                              : blob.type == "application/toml" ? ".toml"
                                                                : ".txt";
            auto const file = folder / (schema::hex_of(blob.hash) + tail);
            if (fs::exists(file, error)) continue;
            if (auto const done = write_whole(file, **bytes, "file", remedy); !done)
                return std::unexpected(done.error());
            ++files;
        }
    }
    return files;
}

}  // namespace

int job_add_command(JobOptions const& options, std::ostream& out, std::ostream& err) {
    auto const in = taken(options);
    if (!in) return refused(in.error(), err);
    auto const job = job_in(options);
    if (!job) return refused(job.error(), err);
    auto const device = device_in(options);
    if (!device) return refused(device.error(), err);
    auto const added = store::add_evidence(**job, *device, {in->draft}, in->blobs);
    if (!added) return refused(added.error(), err);
    out << fmt::format("{} kept, head {}\n", options.kind, short_hash(added->front()));
    return 0;
}

int job_export_command(JobOptions const& options, std::ostream& out, std::ostream& err) {
    auto const job = job_in(options);
    if (!job) return refused(job.error(), err);
    auto const contents = (*job)->contents();
    if (!contents) return refused(contents.error(), err);
    for (auto const& unreadable : contents->unreadable)
        err << "cannot be read: " << on_a_line(unreadable) << '\n';
    auto const files = exported(**job, *contents, *options.out);
    if (!files) return refused(files.error(), err);
    out << fmt::format("{} files in {}\n", *files, options.out->string());
    return 0;
}

}  // namespace phasewright::commands
