#include "records/store/job.hpp"

#include <algorithm>
#include <functional>
#include <set>

namespace phasewright::store {

using quantity::Fault;
using schema::Hash;

namespace {

// What is in the job already need not be brought again; what is in neither may not be named.
std::expected<void, Fault> all_there(Store& store, std::vector<schema::Draft> const& drafts,
                                     std::vector<Blob> const& blobs) {
    for (auto const& draft : drafts) {
        for (auto const& named : draft.blobs) {
            auto const brought = std::ranges::find(blobs, named.hash, &Blob::hash);
            if (brought != blobs.end() && brought->bytes.size() == named.size) continue;
            auto const kept = store.blob(named.hash);
            if (!kept) return std::unexpected(kept.error());
            if (!*kept || (*kept)->size() != named.size)
                return std::unexpected(
                    Fault{"a file that the entry names was not given", named.name, {}, {}, {}});
        }
    }
    return {};
}

std::expected<Addition, Fault> addition_of(Store& store, DeviceKey const& device,
                                           std::vector<schema::Draft> const& drafts,
                                           std::vector<Blob> const& blobs) {
    if (auto const whole = all_there(store, drafts, blobs); !whole) return std::unexpected(whole.error());
    Addition addition{.blobs = blobs};
    auto const id = schema::device_id_of(device.key.open);
    auto head = store.head_of(id);
    if (!head) return std::unexpected(head.error());
    auto last = *head;
    auto const append = [&](schema::Draft draft) -> std::expected<void, Fault> {
        auto kept = schema::sealed(store.job().id, device.key, last ? &*last : nullptr, std::move(draft));
        if (!kept) return std::unexpected(kept.error());
        last = *kept;
        addition.entries.push_back(std::move(*kept));
        return {};
    };
    if (!last && !drafts.empty()) {
        addition.devices.push_back({id, device.key.open});
        auto const done = append(schema::introduction(device.key.open, device.name, drafts.front().time));
        if (!done) return std::unexpected(done.error());
    }
    for (auto const& draft : drafts) {
        if (draft.kind == schema::Kind::device)
            return std::unexpected(
                Fault{"a device is introduced by the record itself", "kind", "device", "another kind", {}});
        if (auto const done = append(draft); !done) return std::unexpected(done.error());
    }
    return addition;
}

using Next = std::function<std::expected<schema::NextVersion, Fault>(schema::PlanHistory const&)>;

std::expected<Hash, Fault> add_version(Store& store, DeviceKey const& device, std::vector<Blob> const& blobs,
                                       Said const& said, Next const& next) {
    Hash hash{};
    auto const added = store.add([&]() -> std::expected<Addition, Fault> {
        auto const history = plan_history_of(store);
        if (!history) return std::unexpected(history.error());
        auto const version = next(*history);
        if (!version) return std::unexpected(version.error());
        auto size = blobs.empty() ? std::uint64_t{0} : std::uint64_t{blobs.front().bytes.size()};
        for (auto const& older : history->all)
            if (blobs.empty() && older.text == version->text) size = older.size;
        auto addition =
            addition_of(store, device, {draft_of(*version, size, said.time, said.by, said.why)}, blobs);
        if (addition) hash = addition->entries.back().hash;
        return addition;
    });
    if (!added) return std::unexpected(added.error());
    return hash;
}

}  // namespace

std::expected<std::vector<Hash>, Fault> add_evidence(Store& store, DeviceKey const& device,
                                                     std::vector<schema::Draft> const& drafts,
                                                     std::vector<Blob> const& blobs) {
    std::vector<Hash> hashes;
    for (auto const& draft : drafts)
        if (draft.kind == schema::Kind::plan)
            return std::unexpected(Fault{"a version of the plan is no loose evidence", "kind", "plan",
                                         "another kind", "phasewright job plan"});
    auto const added = store.add([&] {
        auto addition = addition_of(store, device, drafts, blobs);
        if (addition)
            for (auto const& kept : addition->entries)
                if (kept.kind != schema::name_of(schema::Kind::device)) hashes.push_back(kept.hash);
        return addition;
    });
    if (!added) return std::unexpected(added.error());
    return hashes;
}

schema::BlobName name_of(Blob const& blob, std::string type, std::string name) {
    return {blob.hash, std::move(type), blob.bytes.size(), std::move(name)};
}

std::expected<schema::PlanHistory, Fault> plan_history_of(Store& store) {
    auto const entries = store.entries_of(schema::Kind::plan);
    if (!entries) return std::unexpected(entries.error());
    return schema::plan_history(*entries);
}

std::expected<std::string, Fault> current_plan(Store& store) {
    auto const history = plan_history_of(store);
    if (!history) return std::unexpected(history.error());
    if (history->latest.size() > 1)
        return std::unexpected(Fault{
            "the plan was changed apart in two copies of the job", "plan", {}, {}, "phasewright job settle"});
    if (history->done.empty())
        return std::unexpected(
            Fault{"the job has no plan yet", "plan", {}, {}, "phasewright job plan JOB --set FILE"});
    auto const text = store.blob(history->done.back());
    if (!text) return std::unexpected(text.error());
    if (!*text)
        return std::unexpected(
            Fault{"the text of the latest plan is missing", "plan", {}, {}, "phasewright verify says more"});
    return **text;
}

std::expected<Hash, Fault> change_plan(Store& store, DeviceKey const& device, std::string const& text,
                                       Said const& said) {
    auto const blob = blob_of(text);
    return add_version(
        store, device, {blob}, said,
        [&](schema::PlanHistory const& history) -> std::expected<schema::NextVersion, Fault> {
            if (history.latest.size() == 1 && !history.done.empty() && history.done.back() == blob.hash)
                return std::unexpected(
                    Fault{"the plan is the same as the latest version", "plan", {}, {}, {}});
            return schema::changed_to(history, blob.hash);
        });
}

std::expected<Hash, Fault> undo_plan(Store& store, DeviceKey const& device, Said const& said) {
    return add_version(store, device, {}, said, schema::undone);
}

std::expected<Hash, Fault> redo_plan(Store& store, DeviceKey const& device, Said const& said) {
    return add_version(store, device, {}, said, schema::redone);
}

std::expected<Hash, Fault> settle_plan(Store& store, DeviceKey const& device, std::string const& text,
                                       Said const& said) {
    auto const blob = blob_of(text);
    return add_version(store, device, {blob}, said, [&](schema::PlanHistory const& history) {
        return schema::settled(history, blob.hash);
    });
}

std::expected<schema::Verification, Fault> verify_job(Store& store) {
    auto const contents = store.contents();
    if (!contents) return std::unexpected(contents.error());
    auto const blobs = store.blob_states();
    if (!blobs) return std::unexpected(blobs.error());
    return schema::verify(store.job(), contents->devices, contents->entries, *blobs);
}

std::expected<United, Fault> unite(Store& into, Store& from) {
    if (into.job() != from.job())
        return std::unexpected(Fault{
            "these are two jobs, not two copies of one", from.job().name, from.job().id, into.job().id, {}});
    auto const checked = verify_job(from);
    if (!checked) return std::unexpected(checked.error());
    if (!checked->unchanged())
        return std::unexpected(Fault{"what does not verify is not taken over",
                                     from.job().name,
                                     {},
                                     {},
                                     "phasewright verify says what is wrong with it"});
    auto const theirs = from.contents();
    auto const their_blobs = from.blob_states();
    if (!theirs) return std::unexpected(theirs.error());
    if (!their_blobs) return std::unexpected(their_blobs.error());
    United united;
    auto const added = into.add([&]() -> std::expected<Addition, Fault> {
        united = {};
        auto const ours = into.contents();
        auto const our_blobs = into.blob_states();
        if (!ours) return std::unexpected(ours.error());
        if (!our_blobs) return std::unexpected(our_blobs.error());
        std::set<Hash> known;
        for (auto const& kept : ours->entries) known.insert(kept.hash);
        Addition addition{.devices = theirs->devices};
        for (auto const& kept : theirs->entries)
            if (!known.contains(kept.hash)) addition.entries.push_back(kept);
        for (auto const& [hash, state] : *their_blobs) {
            if (our_blobs->contains(hash)) continue;
            auto bytes = from.blob(hash);
            if (!bytes) return std::unexpected(bytes.error());
            if (*bytes) addition.blobs.push_back({hash, std::move(**bytes)});
        }
        united = {addition.entries.size(), addition.blobs.size()};
        return addition;
    });
    if (!added) return std::unexpected(added.error());
    return united;
}

}  // namespace phasewright::store
