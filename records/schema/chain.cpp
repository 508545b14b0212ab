#include "records/schema/chain.hpp"

#include <algorithm>
#include <optional>
#include <set>
#include <tuple>

#include "records/schema/plan_history.hpp"
#include "records/schema/text_form.hpp"

namespace phasewright::schema {

using quantity::Fault;

namespace {

std::string head_message(Hash const& hash) { return "phasewright head 1 " + hex_of(hash) + "\n"; }

struct Known {
    JobFacts const& job;
    Blobs const& blobs;
};

std::optional<std::string> wrong_with_blobs(Draft const& said, Blobs const& blobs) {
    for (auto const& blob : said.blobs) {
        auto const found = blobs.find(blob.hash);
        if (found == blobs.end()) return "the file " + blob.name + " is missing";
        if (found->second.found != blob.hash || found->second.size != blob.size)
            return "the bytes of the file " + blob.name + " are not those that were sealed";
    }
    return std::nullopt;
}

// What does not fit in one entry, looked at alone.
std::optional<std::string> wrong_alone(Kept const& kept, std::expected<Entry, Fault> const& entry,
                                       Device const* device, Known const& known) {
    if (sha256(kept.text) != kept.hash) return "its text is not what was sealed";
    if (!entry) return "its text is no entry";
    auto const& said = entry->said;
    if (entry->job != known.job.id) return "it belongs to another job";
    if (entry->device != kept.device || entry->number != kept.number)
        return "it lies in another place than its text says";
    if (name_of(said.kind) != kept.kind || instant_ms(said.time) != kept.instant_ms ||
        said.point != kept.point)
        return "kind, time or point beside its text are not those in it";
    if (device == nullptr) return "the public key of its device is missing";
    if (!signature_fits(kept, device->key)) return "its signature is not that of its device";
    bool const is_first = entry->number == 1;
    if (is_first != (said.kind == Kind::device)) return "a chain begins with its device, and names it once";
    if (is_first && field_of(said, "key") != hex_of(device->key))
        return "it names another key than that of its device";
    return wrong_with_blobs(said, known.blobs);
}

Break break_at(Kept const& kept, std::expected<Entry, Fault> const& entry, std::string what) {
    return {kept.device, kept.number, kept.kind, entry ? entry->said.time : utc_time(kept.instant_ms),
            std::move(what)};
}

void find_forks(std::span<Kept const> chain, ChainState& state) {
    for (std::size_t k = 1; k < chain.size(); ++k)
        if (chain[k].number == chain[k - 1].number &&
            (state.forks_before.empty() || state.forks_before.back() != chain[k].number))
            state.forks_before.push_back(chain[k].number);
}

// `chain` by number.
ChainState state_of(std::span<Kept const> chain, Device const* device, Known const& known) {
    ChainState state{.device = chain.front().device, .entries = chain.size()};
    std::set<std::pair<std::uint64_t, Hash>> present;
    for (auto const& kept : chain) {
        auto const entry = entry_of(kept.text);
        auto wrong = wrong_alone(kept, entry, device, known);
        if (!wrong) {
            bool const fits = kept.number == 1 ? entry->previous == chain_start(known.job.id, kept.device)
                                               : present.contains({kept.number - 1, entry->previous});
            if (!fits) wrong = "the entry that it follows is missing, or was changed";
        }
        if (entry && entry->number == 1 && state.name.empty())
            state.name = field_of(entry->said, "name").value_or("");
        if (wrong) {
            state.breaks.push_back(break_at(kept, entry, *wrong));
            continue;
        }
        present.emplace(kept.number, kept.hash);
        if (!state.breaks.empty()) continue;
        state.sound_number = kept.number;
        state.sound_head = kept.hash;
        state.sound_time = entry->said.time;
    }
    find_forks(chain, state);
    return state;
}

}  // namespace

std::string device_id_of(PublicKey const& key) {
    std::string const bytes(key.begin(), key.end());
    return hex_of(sha256(bytes)).substr(0, 32);
}

Hash chain_start(std::string_view job, std::string_view device) {
    return sha256("phasewright chain 1 " + std::string(job) + " " + std::string(device) + "\n");
}

Draft introduction(PublicKey const& key, std::string name, std::string time) {
    return {.time = std::move(time),
            .kind = Kind::device,
            .fields = {{"key", hex_of(key)}, {"name", std::move(name)}}};
}

std::expected<Kept, Fault> sealed(std::string const& job, KeyPair const& key, Kept const* before,
                                  Draft draft) {
    auto said = in_order(std::move(draft));
    if (!said) return std::unexpected(said.error());
    auto const device = device_id_of(key.open);
    Entry const entry{.previous = before == nullptr ? chain_start(job, device) : before->hash,
                      .job = job,
                      .device = device,
                      .number = before == nullptr ? 1 : before->number + 1,
                      .said = std::move(*said)};
    Kept kept{.device = device, .number = entry.number, .text = canonical_text(entry)};
    if (kept.text.size() > longest_text)
        return std::unexpected(
            Fault{"an entry is too long", "entry", std::to_string(kept.text.size()) + " bytes",
                  "at most " + std::to_string(longest_text), "keep the long part as a file"});
    kept.hash = sha256(kept.text);
    kept.signature = signed_with(key, head_message(kept.hash));
    kept.kind = name_of(entry.said.kind);
    kept.instant_ms = instant_ms(entry.said.time).value_or(0);
    kept.point = entry.said.point;
    return kept;
}

bool signature_fits(Kept const& kept, PublicKey const& key) {
    return is_signed_by(key, head_message(kept.hash), kept.signature);
}

void sort_for_showing(std::vector<Kept>& entries) {
    std::ranges::sort(entries, {}, [](Kept const& one) {
        return std::tie(one.instant_ms, one.device, one.number, one.hash);
    });
}

bool Verification::unchanged() const {
    return plan.empty() &&
           std::ranges::all_of(chains, [](ChainState const& chain) { return chain.breaks.empty(); });
}

bool Verification::forked() const {
    return std::ranges::any_of(chains, [](ChainState const& chain) { return !chain.forks_before.empty(); });
}

Verification verify(JobFacts const& job, std::span<Device const> devices, std::span<Kept const> entries,
                    Blobs const& blobs) {
    Verification verification;
    std::map<std::string, std::vector<Kept>> by_device;
    for (auto const& kept : entries) by_device[kept.device].push_back(kept);
    std::map<std::string, Device const*> known;
    for (auto const& device : devices) known[device.id] = &device;
    for (auto& [id, chain] : by_device) {
        std::ranges::sort(chain, {}, [](Kept const& one) { return std::tie(one.number, one.hash); });
        auto const device = known.find(id);
        auto state = state_of(chain, device == known.end() ? nullptr : device->second, {job, blobs});
        if (device != known.end() && device_id_of(device->second->key) != id)
            state.breaks.insert(state.breaks.begin(),
                                Break{id, 0, "device", {}, "its id is not that of its public key"});
        verification.chains.push_back(std::move(state));
    }
    verification.plan = wrong_versions(plan_history(entries));
    return verification;
}

}  // namespace phasewright::schema
