// The tables of a job's file, one numbered step after the other (docs/reference/records.md, "The file"). A
// step that has once been in a release is never changed: a new one is added behind it, with a test that takes
// a job of the step before.
#pragma once
#include <expected>
#include <span>
#include <string>
#include <string_view>

#include "core/quantity/fault.hpp"
#include "records/store/sqlite.hpp"

namespace phasewright::store {

inline constexpr std::int64_t application_id = 0x50574A42;  // "PWJB"

struct Migration {
    int to = 0;  // the schema version that it makes
    std::string_view sql;
};
[[nodiscard]] std::span<Migration const> migrations();
[[nodiscard]] inline int newest_version() { return migrations().back().to; }

// Every step that is missing, each in a transaction of its own.
[[nodiscard]] std::expected<void, quantity::Fault> migrate(Database& database,
                                                           std::span<Migration const> steps);

// The words of all tables and triggers; those of a fresh database of that version.
[[nodiscard]] std::expected<std::string, quantity::Fault> words_of_schema(Database const& database);
[[nodiscard]] std::expected<std::string, quantity::Fault> expected_words(int version);

}  // namespace phasewright::store
