#include "app/commands/job_parts.hpp"

#include <ostream>

#include "app/commands/meter_rounds.hpp"
#include "app/commands/plan_file.hpp"
#include "app/commands/plan_writer.hpp"
#include "app/commands/whole_file.hpp"
#include "records/schema/text_form.hpp"
#include "records/store/sqlite_store.hpp"

namespace phasewright::commands {

using quantity::Fault;

std::expected<std::unique_ptr<store::Store>, Fault> job_in(JobOptions const& options) {
    return store::open_job({options.job, {}});
}

std::expected<store::DeviceKey, Fault> device_in(JobOptions const& options) {
    return store::device_key_in(options.keys_folder.value_or(store::config_folder()), options.device);
}

store::Said said_in(JobOptions const& options) {
    return {options.at.empty() ? iso_now() : options.at, options.by, options.why};
}

int refused(Fault const& fault, std::ostream& err) {
    err << quantity::to_sentence(fault) << '\n';
    return job_not_done;
}

std::string short_hash(schema::Hash const& hash) { return schema::hex_of(hash).substr(0, 16); }

std::string on_a_line(std::string_view text) {
    if (schema::may_stand(text)) return schema::escaped(text);
    std::string plain;
    for (char const c : text) plain += c >= ' ' && c < '\x7F' ? c : '?';
    return plain;
}

std::expected<std::string, Fault> canonical_plan(std::filesystem::path const& file) {
    auto const text = text_of(file, "the plan");
    if (!text) return std::unexpected(text.error());
    auto const site = read_draft(*text, file.string());
    if (!site) return std::unexpected(site.error());
    return write_plan(*site);
}

}  // namespace phasewright::commands
