// One entry of the record as a value, and its canonical text: the bytes that are hashed, signed and kept
// (docs/reference/records.md). The same entry is the same bytes on every machine, and a text that would be
// written otherwise is no entry, so nobody can hide a second meaning in a first hash.
#pragma once
#include <cstdint>
#include <expected>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/quantity/fault.hpp"
#include "records/schema/seal.hpp"

namespace phasewright::schema {

enum class Kind {
    device,
    plan,
    reading,
    diagnosis,
    test,
    reference,
    setting_before,
    setting_after,
    photo,
    note,
    signature,
    seal,
};
[[nodiscard]] std::string_view name_of(Kind kind);  // "setting-before"
[[nodiscard]] std::optional<Kind> kind_of(std::string_view name);
[[nodiscard]] std::vector<std::string> kind_names();

struct BlobName {
    Hash hash{};
    std::string type;  // "image/jpeg"
    std::uint64_t size = 0;
    std::string name;  // as the file was called
    friend auto operator<=>(BlobName const&, BlobName const&) = default;
};

struct Field {
    std::string name;
    std::string value;
    friend auto operator<=>(Field const&, Field const&) = default;
};
[[nodiscard]] Field number_field(std::string name, double value);  // the fewest digits that read back

// What somebody wants to add; the chain gives it its place.
struct Draft {
    std::string time;  // RFC 3339, as given
    Kind kind = Kind::note;
    std::string by;
    std::string point;
    std::vector<BlobName> blobs;
    std::vector<Field> fields;
    friend bool operator==(Draft const&, Draft const&) = default;
};

struct Entry {
    Hash previous{};
    std::string job;
    std::string device;
    std::uint64_t number = 0;
    Draft said;
    friend bool operator==(Entry const&, Entry const&) = default;
};

inline constexpr std::size_t longest_text = 1024UL * 1024UL;

// Sorts blobs and fields; refuses what cannot stand in an entry.
[[nodiscard]] std::expected<Draft, quantity::Fault> in_order(Draft draft);
[[nodiscard]] std::string canonical_text(Entry const& entry);  // of a draft that is in order
// Strict: only what canonical_text writes.
[[nodiscard]] std::expected<Entry, quantity::Fault> entry_of(std::string_view text);

[[nodiscard]] std::optional<std::string_view> field_of(Draft const& draft, std::string_view name);

}  // namespace phasewright::schema
