// A chain: the entries of one device, each holding the hash of the one before it. Change a letter of an old
// entry and its hash changes, so the next entry no longer fits, and so on to the head, which somebody else
// may have on paper. Verification is a function of what lies in the job and of nothing else
// (docs/reference/records.md, "Verify").
#pragma once
#include <cstdint>
#include <expected>
#include <map>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/quantity/fault.hpp"
#include "records/schema/entry.hpp"
#include "records/schema/seal.hpp"

namespace phasewright::schema {

struct JobFacts {
    std::string id;
    std::string name;
    std::string made_at;
    friend bool operator==(JobFacts const&, JobFacts const&) = default;
};

struct Device {
    std::string id;
    PublicKey key{};
    friend auto operator<=>(Device const&, Device const&) = default;
};
[[nodiscard]] std::string device_id_of(PublicKey const& key);

// An entry as it lies in a store: the text that counts, and what was drawn from it.
struct Kept {
    std::string device;
    std::uint64_t number = 0;
    Hash hash{};
    std::string text;
    Signature signature{};
    std::string kind;
    std::int64_t instant_ms = 0;
    std::string point;
    friend auto operator<=>(Kept const&, Kept const&) = default;
};

[[nodiscard]] Hash chain_start(std::string_view job, std::string_view device);
// What a device says first of itself.
[[nodiscard]] Draft introduction(PublicKey const& key, std::string name, std::string time);
// `before` is the head of the device's chain, or nullptr at its start.
[[nodiscard]] std::expected<Kept, quantity::Fault> sealed(std::string const& job, KeyPair const& key,
                                                          Kept const* before, Draft draft);
[[nodiscard]] bool signature_fits(Kept const& kept, PublicKey const& key);

// The order in which a job is shown.
void sort_for_showing(std::vector<Kept>& entries);

// Where a link does not fit. Number 0: the device itself.
struct Break {
    std::string device;
    std::uint64_t number = 0;
    std::string kind;
    std::string time;
    std::string what;
};

struct ChainState {
    std::string device;
    std::string name;  // as the device gave it; empty when it did not
    std::size_t entries = 0;
    // The last entry up to which everything fits; number 0 when nothing does.
    std::uint64_t sound_number = 0;
    Hash sound_head{};
    std::string sound_time;
    std::vector<Break> breaks;                // by number
    std::vector<std::uint64_t> forks_before;  // numbers that the chain has more than once
};

struct Verification {
    std::vector<ChainState> chains;  // by device
    std::vector<Break> plan;         // versions that do not hold the text that they should
    [[nodiscard]] bool unchanged() const;
    [[nodiscard]] bool forked() const;
};

// A blob as it was found: the hash of its bytes as they are now.
struct BlobState {
    Hash found{};
    std::uint64_t size = 0;
};
using Blobs = std::map<Hash, BlobState>;

[[nodiscard]] Verification verify(JobFacts const& job, std::span<Device const> devices,
                                  std::span<Kept const> entries, Blobs const& blobs);

}  // namespace phasewright::schema
