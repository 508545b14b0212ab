#include "records/store/sqlite.hpp"

#include <algorithm>
#include <filesystem>
#include <system_error>
#include <utility>

#include <sqlite3.h>

namespace phasewright::store {

using quantity::Fault;

namespace {

constexpr int wait_for_lock_ms = 5000;

Fault fault_of(sqlite3* handle, int code, std::string const& file) {
    std::string const said = handle != nullptr ? sqlite3_errmsg(handle) : sqlite3_errstr(code);
    switch (code & 0xFF) {
        case SQLITE_FULL:
            return {"the disk is full; nothing was added", file, said, {}, "make room and do it again"};
        case SQLITE_READONLY:
        case SQLITE_PERM:
            return {
                "the job cannot be written to",
                file,
                said,
                {},
                "look at the rights of the file and of its folder, and whether the disk is write-protected"};
        case SQLITE_BUSY:
        case SQLITE_LOCKED:
            return {"another program is writing to the job",
                    file,
                    said,
                    {},
                    "wait until it is done, then do it again"};
        case SQLITE_CANTOPEN:
            return {"the job cannot be opened",
                    file,
                    said,
                    {},
                    "look at its name and the rights of the file and of its folder"};
        case SQLITE_CORRUPT:
            return {"the file of the job is damaged",
                    file,
                    said,
                    {},
                    "keep it as it is, and work on with a whole copy; phasewright job export saves what can "
                    "be read"};
        case SQLITE_NOTADB:
            return {"the file is no job", file, said, "a file made by phasewright job new",
                    "look at its name"};
        case SQLITE_IOERR:
            return {"the disk failed; nothing was added",
                    file,
                    said,
                    {},
                    "look at the disk and its free space, then do it again"};
        default: return {"the job's file refused", file, said, {}, "tell who looks after phasewright"};
    }
}

// As a URI, in which no letter of a file's name means anything else.
std::string uri_of(Database::Place const& place, std::string_view settings) {
    std::string path = place.file;
    if (place.vfs.empty()) {
        std::error_code error;
        auto const absolute = std::filesystem::absolute(place.file, error);
        if (!error) path = absolute.string();
    }
    std::string uri = "file:";
    constexpr std::string_view digits = "0123456789ABCDEF";
    for (char const c : path) {
        auto const byte = static_cast<unsigned char>(c);
        bool const plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                           c == '/' || c == '.' || c == '_' || c == '-';
        if (plain)
            uri += c;
        else
            uri += {'%', digits[byte >> 4U], digits[byte & 0x0FU]};
    }
    return uri + "?" + std::string(settings);
}

}  // namespace

void CloseDatabase::operator()(sqlite3* handle) const { sqlite3_close_v2(handle); }
void FinalizeStatement::operator()(sqlite3_stmt* handle) const { sqlite3_finalize(handle); }

Statement::Statement(sqlite3* database, sqlite3_stmt* handle, std::string file)
    : database_(database), handle_(handle), file_(std::move(file)) {}

void Statement::bind(int place, std::string_view text) {
    sqlite3_bind_text64(handle_.get(), place, text.data(), text.size(), SQLITE_STATIC, SQLITE_UTF8);
}
void Statement::bind(int place, std::span<unsigned char const> bytes) {
    sqlite3_bind_blob64(handle_.get(), place, bytes.data(), bytes.size(), SQLITE_STATIC);
}
void Statement::bind_bytes(int place, std::string_view bytes) {
    sqlite3_bind_blob64(handle_.get(), place, bytes.data() == nullptr ? "" : bytes.data(), bytes.size(),
                        SQLITE_STATIC);
}
void Statement::bind(int place, std::int64_t number) { sqlite3_bind_int64(handle_.get(), place, number); }

std::expected<bool, Fault> Statement::step() {
    int const code = sqlite3_step(handle_.get());
    if (code == SQLITE_ROW) return true;
    if (code == SQLITE_DONE) return false;
    auto fault = fault_of(database_, code, file_);
    sqlite3_reset(handle_.get());
    return std::unexpected(std::move(fault));
}

std::expected<void, Fault> Statement::run() {
    for (;;) {
        auto const row = step();
        if (!row) return std::unexpected(row.error());
        if (!*row) break;
    }
    sqlite3_reset(handle_.get());
    return {};
}

std::string Statement::text(int column) const {
    auto const* const bytes = static_cast<char const*>(sqlite3_column_blob(handle_.get(), column));
    auto const size = static_cast<std::size_t>(sqlite3_column_bytes(handle_.get(), column));
    return bytes == nullptr ? std::string{} : std::string(bytes, size);
}

std::int64_t Statement::number(int column) const { return sqlite3_column_int64(handle_.get(), column); }

bool Statement::bytes(int column, std::span<unsigned char> into) const {
    auto const* const bytes = static_cast<unsigned char const*>(sqlite3_column_blob(handle_.get(), column));
    auto const size = static_cast<std::size_t>(sqlite3_column_bytes(handle_.get(), column));
    if (bytes != nullptr) std::copy_n(bytes, std::min(size, into.size()), into.begin());
    return size == into.size();
}

Database::Database(sqlite3* handle, std::string file) : handle_(handle), file_(std::move(file)) {}

std::expected<Database, Fault> Database::open(Place const& place, Access access, bool may_make) {
    // psow=0: a torn write may spoil what lies beside it in its sector.
    int flags = SQLITE_OPEN_URI | SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_EXRESCODE;
    std::string_view settings = "psow=0";
    if (access == Access::read_write)
        flags |= SQLITE_OPEN_READWRITE | (may_make ? SQLITE_OPEN_CREATE : 0);
    else
        flags |= SQLITE_OPEN_READONLY;
    if (access == Access::salvage_alone) settings = "immutable=1";
    sqlite3* handle = nullptr;
    int const code = sqlite3_open_v2(uri_of(place, settings).c_str(), &handle, flags,
                                     place.vfs.empty() ? nullptr : place.vfs.c_str());
    Database database(handle, place.file);
    if (code != SQLITE_OK) return std::unexpected(fault_of(handle, code, place.file));
    sqlite3_busy_timeout(handle, wait_for_lock_ms);
    // A file that somebody else made must not run anything on being opened.
    sqlite3_db_config(handle, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
    sqlite3_db_config(handle, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, nullptr);
    sqlite3_db_config(handle, SQLITE_DBCONFIG_ENABLE_FKEY, 1, nullptr);
    // A torn file says that it is longer than it is; only so does SQLite read what is there.
    if (access == Access::salvage || access == Access::salvage_alone) {
        sqlite3_db_config(handle, SQLITE_DBCONFIG_DEFENSIVE, 0, nullptr);
        sqlite3_db_config(handle, SQLITE_DBCONFIG_WRITABLE_SCHEMA, 1, nullptr);
    }
    return database;
}

std::expected<Database, Fault> Database::in_memory() {
    sqlite3* handle = nullptr;
    int const code = sqlite3_open_v2(
        ":memory:", &handle, SQLITE_OPEN_READWRITE | SQLITE_OPEN_MEMORY | SQLITE_OPEN_NOMUTEX, nullptr);
    Database database(handle, "memory");
    if (code != SQLITE_OK) return std::unexpected(fault_of(handle, code, "memory"));
    return database;
}

std::expected<void, Fault> Database::run(std::string const& sql) {
    int const code = sqlite3_exec(handle_.get(), sql.c_str(), nullptr, nullptr, nullptr);
    if (code != SQLITE_OK) return std::unexpected(fault_of(handle_.get(), code, file_));
    return {};
}

std::expected<Statement, Fault> Database::prepare(std::string_view sql) const {
    sqlite3_stmt* handle = nullptr;
    int const code =
        sqlite3_prepare_v2(handle_.get(), sql.data(), static_cast<int>(sql.size()), &handle, nullptr);
    if (code != SQLITE_OK) return std::unexpected(fault_of(handle_.get(), code, file_));
    return Statement(handle_.get(), handle, file_);
}

std::expected<std::int64_t, Fault> Database::number_of(std::string_view sql) const {
    auto statement = prepare(sql);
    if (!statement) return std::unexpected(statement.error());
    auto const row = statement->step();
    if (!row) return std::unexpected(row.error());
    return *row ? statement->number(0) : 0;
}

std::expected<std::string, Fault> Database::text_of(std::string_view sql) const {
    auto statement = prepare(sql);
    if (!statement) return std::unexpected(statement.error());
    auto const row = statement->step();
    if (!row) return std::unexpected(row.error());
    return *row ? statement->text(0) : std::string{};
}

bool Database::is_read_only() const { return sqlite3_db_readonly(handle_.get(), "main") != 0; }
bool Database::says_damaged() const {
    int const code = sqlite3_errcode(handle_.get()) & 0xFF;
    return code == SQLITE_CORRUPT || code == SQLITE_NOTADB;
}
bool Database::says_no_database() const { return (sqlite3_errcode(handle_.get()) & 0xFF) == SQLITE_NOTADB; }
bool Database::says_cannot_open() const {
    int const code = sqlite3_errcode(handle_.get()) & 0xFF;
    return code == SQLITE_CANTOPEN || code == SQLITE_READONLY;
}

std::expected<Transaction, Fault> Transaction::begin(Database& database) {
    if (auto const begun = database.run("BEGIN IMMEDIATE"); !begun) return std::unexpected(begun.error());
    return Transaction(database);
}

std::expected<void, Fault> Transaction::commit() {
    if (auto const committed = database_->run("COMMIT"); !committed)
        return std::unexpected(committed.error());
    database_ = nullptr;
    return {};
}

Transaction::Transaction(Transaction&& other) noexcept : database_(std::exchange(other.database_, nullptr)) {}

Transaction::~Transaction() {
    // When the failure rolled back already, there is nothing left to roll back, and SQLite says so.
    if (database_ == nullptr) return;
    [[maybe_unused]] auto const rolled_back = database_->run("ROLLBACK");
}

}  // namespace phasewright::store
