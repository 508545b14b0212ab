#include "records/store/migrations.hpp"

#include <array>

namespace phasewright::store {

using quantity::Fault;

namespace {

constexpr std::string_view first = R"(
CREATE TABLE job (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    id TEXT NOT NULL CHECK (length(id) = 32),
    name TEXT NOT NULL,
    made_at TEXT NOT NULL
) STRICT;
CREATE TABLE device (
    id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
    public_key BLOB NOT NULL CHECK (length(public_key) = 32)
) STRICT;
CREATE TABLE evidence (
    device TEXT NOT NULL REFERENCES device (id),
    number INTEGER NOT NULL CHECK (number >= 1),
    hash BLOB NOT NULL CHECK (length(hash) = 32),
    text TEXT NOT NULL,
    signature BLOB NOT NULL CHECK (length(signature) = 64),
    kind TEXT NOT NULL,
    instant_ms INTEGER NOT NULL,
    point TEXT NOT NULL,
    UNIQUE (device, number, hash)
) STRICT;
CREATE INDEX evidence_by_kind ON evidence (kind);
CREATE TABLE blob (
    hash BLOB NOT NULL PRIMARY KEY CHECK (length(hash) = 32),
    bytes BLOB NOT NULL
) STRICT;
CREATE TRIGGER job_is_kept BEFORE UPDATE ON job
    BEGIN SELECT RAISE(ABORT, 'a record is only added to'); END;
CREATE TRIGGER job_stays BEFORE DELETE ON job
    BEGIN SELECT RAISE(ABORT, 'a record is only added to'); END;
CREATE TRIGGER device_is_kept BEFORE UPDATE ON device
    BEGIN SELECT RAISE(ABORT, 'a record is only added to'); END;
CREATE TRIGGER device_stays BEFORE DELETE ON device
    BEGIN SELECT RAISE(ABORT, 'a record is only added to'); END;
CREATE TRIGGER evidence_is_kept BEFORE UPDATE ON evidence
    BEGIN SELECT RAISE(ABORT, 'a record is only added to'); END;
CREATE TRIGGER evidence_stays BEFORE DELETE ON evidence
    BEGIN SELECT RAISE(ABORT, 'a record is only added to'); END;
CREATE TRIGGER blob_is_kept BEFORE UPDATE ON blob
    BEGIN SELECT RAISE(ABORT, 'a record is only added to'); END;
CREATE TRIGGER blob_stays BEFORE DELETE ON blob
    BEGIN SELECT RAISE(ABORT, 'a record is only added to'); END;
PRAGMA application_id = 1347897922;
)";

constexpr std::array all{Migration{1, first}};

}  // namespace

std::span<Migration const> migrations() { return all; }

std::expected<void, Fault> migrate(Database& database, std::span<Migration const> steps) {
    for (auto const& step : steps) {
        auto transaction = Transaction::begin(database);
        if (!transaction) return std::unexpected(transaction.error());
        // Asked within the transaction: another program may have taken the step meanwhile.
        auto const version = database.number_of("PRAGMA user_version");
        if (!version) return std::unexpected(version.error());
        if (*version >= step.to) continue;
        if (auto const made = database.run(std::string(step.sql)); !made)
            return std::unexpected(made.error());
        auto const numbered = database.run("PRAGMA user_version = " + std::to_string(step.to));
        if (!numbered) return std::unexpected(numbered.error());
        if (auto const kept = transaction->commit(); !kept) return std::unexpected(kept.error());
    }
    return {};
}

std::expected<std::string, Fault> words_of_schema(Database const& database) {
    auto statement = database.prepare("SELECT type, name, sql FROM sqlite_schema ORDER BY type, name");
    if (!statement) return std::unexpected(statement.error());
    std::string words;
    for (;;) {
        auto const row = statement->step();
        if (!row) return std::unexpected(row.error());
        if (!*row) return words;
        words += statement->text(0) + " " + statement->text(1) + " " + statement->text(2) + "\n";
    }
}

std::expected<std::string, Fault> expected_words(int version) {
    auto fresh = Database::in_memory();
    if (!fresh) return std::unexpected(fresh.error());
    auto const steps = migrations();
    auto const made = migrate(*fresh, steps.first(static_cast<std::size_t>(version)));
    if (!made) return std::unexpected(made.error());
    return words_of_schema(*fresh);
}

}  // namespace phasewright::store
