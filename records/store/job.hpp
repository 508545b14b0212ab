// What is done with a job, whatever it is kept in: evidence added, the plan changed, undone, redone, the
// record checked, two copies brought together (docs/reference/records.md).
#pragma once
#include <expected>
#include <string>
#include <vector>

#include "core/quantity/fault.hpp"
#include "records/schema/chain.hpp"
#include "records/schema/plan_history.hpp"
#include "records/store/device_key.hpp"
#include "records/store/store.hpp"

namespace phasewright::store {

// Adds all of them or none; returns once the disk has them, with their hashes. The first time a device writes
// in a job it introduces itself. The files that the drafts name must be in `blobs` or in the job.
[[nodiscard]] std::expected<std::vector<schema::Hash>, quantity::Fault> add_evidence(
    Store& store, DeviceKey const& device, std::vector<schema::Draft> const& drafts,
    std::vector<Blob> const& blobs);
// A blob of these bytes under this name, for a draft, and the bytes.
[[nodiscard]] schema::BlobName name_of(Blob const& blob, std::string type, std::string name);

struct Said {
    std::string time;
    std::string by;
    std::string why;
};
[[nodiscard]] std::expected<schema::PlanHistory, quantity::Fault> plan_history_of(Store& store);
// The latest text; a fault when there is none, or two copies were changed apart.
[[nodiscard]] std::expected<std::string, quantity::Fault> current_plan(Store& store);
// The hash of the new version's entry.
[[nodiscard]] std::expected<schema::Hash, quantity::Fault> change_plan(Store& store, DeviceKey const& device,
                                                                       std::string const& text,
                                                                       Said const& said);
[[nodiscard]] std::expected<schema::Hash, quantity::Fault> undo_plan(Store& store, DeviceKey const& device,
                                                                     Said const& said);
[[nodiscard]] std::expected<schema::Hash, quantity::Fault> redo_plan(Store& store, DeviceKey const& device,
                                                                     Said const& said);
// A person's answer where two copies were changed apart.
[[nodiscard]] std::expected<schema::Hash, quantity::Fault> settle_plan(Store& store, DeviceKey const& device,
                                                                       std::string const& text,
                                                                       Said const& said);

[[nodiscard]] std::expected<schema::Verification, quantity::Fault> verify_job(Store& store);

// Adds to `into` what only `from` has: entries, devices and files, by their hashes. What does not verify is
// refused, all of it.
struct United {
    std::size_t entries = 0;  // that were new
    std::size_t blobs = 0;
};
[[nodiscard]] std::expected<United, quantity::Fault> unite(Store& into, Store& from);

}  // namespace phasewright::store
