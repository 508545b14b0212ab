// Where the record of a job is kept, as seen from the job: facts, devices, entries and blobs in, the same
// out, one transaction at a time. A file on a laptop and a server of a team stand behind the same seam
// (docs/reference/records.md).
#pragma once
#include <expected>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/quantity/fault.hpp"
#include "records/schema/chain.hpp"

namespace phasewright::store {

struct Blob {
    schema::Hash hash{};
    std::string bytes;
};
[[nodiscard]] Blob blob_of(std::string bytes);

struct Addition {
    std::vector<schema::Device> devices;
    std::vector<schema::Kept> entries;
    std::vector<Blob> blobs;
};

// What could be read. In a damaged job `unreadable` says what could not.
struct Contents {
    std::vector<schema::Device> devices;
    std::vector<schema::Kept> entries;
    std::vector<std::string> unreadable;
};

class Store {
public:
    Store() = default;
    Store(Store const&) = delete;
    Store& operator=(Store const&) = delete;
    virtual ~Store() = default;

    [[nodiscard]] virtual schema::JobFacts const& job() const = 0;
    // Why nothing can be added; empty when something can.
    [[nodiscard]] virtual std::optional<std::string> read_only_because() const = 0;
    [[nodiscard]] virtual bool is_damaged() const = 0;

    [[nodiscard]] virtual std::expected<Contents, quantity::Fault> contents() = 0;
    [[nodiscard]] virtual std::expected<std::vector<schema::Kept>, quantity::Fault> entries_of(
        schema::Kind kind) = 0;
    [[nodiscard]] virtual std::expected<std::optional<schema::Kept>, quantity::Fault> head_of(
        std::string const& device) = 0;
    [[nodiscard]] virtual std::expected<std::optional<std::string>, quantity::Fault> blob(
        schema::Hash const& hash) = 0;
    // Of every blob, the hash that its bytes have now.
    [[nodiscard]] virtual std::expected<schema::Blobs, quantity::Fault> blob_states() = 0;

    // `make` says what to add while nobody else can write; it may read from this store. What is there already
    // is left alone. Returns once the disk has it, or with a fault, and then nothing was added.
    using Make = std::function<std::expected<Addition, quantity::Fault>()>;
    [[nodiscard]] virtual std::expected<void, quantity::Fault> add(Make const& make) = 0;
};

}  // namespace phasewright::store
