// SQLite's C interface, as far as a job needs it: a handle that closes itself, statements that finalise
// themselves, and every result code as a sentence for the person at the panel.
// https://www.sqlite.org/rescode.html
#pragma once
#include <cstdint>
#include <expected>
#include <memory>
#include <span>
#include <string>
#include <string_view>

#include "core/quantity/fault.hpp"

struct sqlite3;
struct sqlite3_stmt;

namespace phasewright::store {

struct CloseDatabase {
    void operator()(sqlite3* handle) const;
};
struct FinalizeStatement {
    void operator()(sqlite3_stmt* handle) const;
};

class Statement {
public:
    Statement(sqlite3* database, sqlite3_stmt* handle, std::string file);
    // Places count from 1. What is bound must live until the next step.
    void bind(int place, std::string_view text);
    void bind(int place, std::span<unsigned char const> bytes);
    void bind_bytes(int place, std::string_view bytes);
    void bind(int place, std::int64_t number);
    // True when there is a row.
    [[nodiscard]] std::expected<bool, quantity::Fault> step();
    [[nodiscard]] std::expected<void, quantity::Fault> run();  // to its end, and ready for the next binding
    // Columns count from 0.
    [[nodiscard]] std::string text(int column) const;  // of text and of bytes
    [[nodiscard]] std::int64_t number(int column) const;
    // False when there are not exactly so many bytes; what there is is copied.
    bool bytes(int column, std::span<unsigned char> into) const;

private:
    sqlite3* database_;
    std::unique_ptr<sqlite3_stmt, FinalizeStatement> handle_;
    std::string file_;
};

enum class Access {
    read_write,
    read_only,
    salvage,        // reads a torn file as far as it goes
    salvage_alone,  // the same, without what lies beside it, where nobody can write
};

class Database {
public:
    struct Place {
        std::string file;
        std::string vfs;  // of SQLite; empty: the system's
    };
    [[nodiscard]] static std::expected<Database, quantity::Fault> open(Place const& place, Access access,
                                                                       bool may_make);

    [[nodiscard]] static std::expected<Database, quantity::Fault> in_memory();

    [[nodiscard]] std::expected<void, quantity::Fault> run(std::string const& sql);
    [[nodiscard]] std::expected<Statement, quantity::Fault> prepare(std::string_view sql) const;
    [[nodiscard]] std::expected<std::int64_t, quantity::Fault> number_of(std::string_view sql) const;
    [[nodiscard]] std::expected<std::string, quantity::Fault> text_of(std::string_view sql) const;
    [[nodiscard]] bool is_read_only() const;
    // Of the last call: the file is torn or no database; it cannot be opened; it is busy.
    [[nodiscard]] bool says_damaged() const;
    [[nodiscard]] bool says_no_database() const;
    [[nodiscard]] bool says_cannot_open() const;

private:
    Database(sqlite3* handle, std::string file);
    std::unique_ptr<sqlite3, CloseDatabase> handle_;
    std::string file_;
};

// All or nothing: what is not committed is rolled back.
class Transaction {
public:
    [[nodiscard]] static std::expected<Transaction, quantity::Fault> begin(Database& database);
    [[nodiscard]] std::expected<void, quantity::Fault> commit();
    Transaction(Transaction&& other) noexcept;
    Transaction& operator=(Transaction&&) = delete;
    Transaction(Transaction const&) = delete;
    Transaction& operator=(Transaction const&) = delete;
    ~Transaction();

private:
    explicit Transaction(Database& database) : database_(&database) {}
    Database* database_;
};

}  // namespace phasewright::store
