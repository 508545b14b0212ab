#include "app/commands/verify_command.hpp"

#include <algorithm>
#include <ostream>

#include <fmt/format.h>

#include "app/commands/job_parts.hpp"
#include "records/schema/text_form.hpp"

namespace phasewright::commands {

namespace {

constexpr int something_does_not_fit = 1;

std::string line_of(schema::Break const& broken) {
    return fmt::format("device {}, entry {}, {}, {}: {}", on_a_line(broken.device), broken.number,
                       on_a_line(broken.kind), on_a_line(broken.time), on_a_line(broken.what));
}

void say(schema::ChainState const& chain, std::ostream& out) {
    auto const device = fmt::format("device {} ({})", on_a_line(chain.device), on_a_line(chain.name));
    if (chain.sound_number > 0)
        out << fmt::format("{}: {}unchanged since head {} was signed, entry {}, {}\n", device,
                           chain.breaks.empty() ? fmt::format("{} entries, ", chain.entries)
                                                : fmt::format("entries 1 to {} ", chain.sound_number),
                           schema::hex_of(chain.sound_head), chain.sound_number, chain.sound_time);
    if (!chain.breaks.empty()) out << "first broken link: " << line_of(chain.breaks.front()) << '\n';
    if (chain.breaks.size() > 1)
        out << fmt::format("  and {} more of this device\n", chain.breaks.size() - 1);
    for (auto const number : chain.forks_before)
        out << fmt::format(
            "{}: the chain forks at entry {}: the job or the key was copied, and both copies were used\n",
            device, number);
}

// Which chain holds the head, whole up to it; a head that only a broken part holds shows nothing.
bool holds(schema::Verification const& verification, std::vector<schema::Kept> const& entries,
           std::string const& head) {
    auto const found = std::ranges::find_if(
        entries, [&](schema::Kept const& kept) { return schema::hex_of(kept.hash).starts_with(head); });
    if (found == entries.end()) return false;
    auto const chain = std::ranges::find(verification.chains, found->device, &schema::ChainState::device);
    return chain != verification.chains.end() && found->number <= chain->sound_number;
}

}  // namespace

int verify_command(VerifyOptions const& options, std::ostream& out, std::ostream& err) {
    for (auto const& head : options.heads)
        if (head.size() < 16 || head.size() > 64 || !schema::is_hex(head, head.size()))
            return refused({"a head is not understood",
                            "--head",
                            on_a_line(head),
                            "16 to 64 hex digits in lower case",
                            {}},
                           err);
    auto const job = job_in({.job = options.job});
    if (!job) return refused(job.error(), err);
    auto const contents = (*job)->contents();
    if (!contents) return refused(contents.error(), err);
    auto const verified = store::verify_job(**job);
    if (!verified) return refused(verified.error(), err);
    out << fmt::format("job {}, id {}\n", on_a_line((*job)->job().name), on_a_line((*job)->job().id));
    for (auto const& unreadable : contents->unreadable) out << "damaged: " << on_a_line(unreadable) << '\n';
    for (auto const& chain : verified->chains) say(chain, out);
    for (auto const& broken : verified->plan) out << "plan: " << line_of(broken) << '\n';
    bool all_heads = true;
    for (auto const& head : options.heads) {
        bool const there = holds(*verified, contents->entries, head);
        all_heads = all_heads && there;
        out << fmt::format("head {}: {}\n", head,
                           there ? "in this job, and everything up to it is unchanged"
                                 : "not in this job, or changed before it");
    }
    bool const whole = verified->unchanged() && !verified->forked() && all_heads && !(*job)->is_damaged();
    out << (whole
                ? "unchanged, as far as the record can show; it does not show that what was written is true\n"
                : "something does not fit\n");
    return whole ? 0 : something_does_not_fit;
}

}  // namespace phasewright::commands
