#include "records/store/sqlite_store.hpp"

#include <algorithm>
#include <filesystem>
#include <system_error>

#include "records/schema/text_form.hpp"
#include "records/store/migrations.hpp"
#include "records/store/new_file.hpp"
#include "records/store/salvage.hpp"
#include "records/store/sqlite.hpp"

namespace phasewright::store {

using quantity::Fault;
using schema::Kept;

namespace {

constexpr auto evidence_columns = "device, number, hash, text, signature, kind, instant_ms, point";

// `at`: the column of the device.
Kept kept_in(Statement const& row, int at) {
    Kept kept{.device = row.text(at),
              .number = static_cast<std::uint64_t>(row.number(at + 1)),
              .text = row.text(at + 3),
              .kind = row.text(at + 5),
              .instant_ms = row.number(at + 6),
              .point = row.text(at + 7)};
    row.bytes(at + 2, kept.hash);
    row.bytes(at + 4, kept.signature);
    return kept;
}

class SqliteStore final : public Store {
public:
    struct State {
        std::optional<std::string> read_only;
        std::string damage;
    };
    SqliteStore(Database database, std::string file, schema::JobFacts facts, State state)
        : database_(std::move(database)),
          file_(std::move(file)),
          facts_(std::move(facts)),
          state_(std::move(state)) {}

    [[nodiscard]] schema::JobFacts const& job() const override { return facts_; }
    [[nodiscard]] std::optional<std::string> read_only_because() const override { return state_.read_only; }
    [[nodiscard]] bool is_damaged() const override { return !state_.damage.empty(); }
    [[nodiscard]] std::expected<Contents, Fault> contents() override;
    [[nodiscard]] std::expected<std::vector<Kept>, Fault> entries_of(schema::Kind kind) override;
    [[nodiscard]] std::expected<std::optional<Kept>, Fault> head_of(std::string const& device) override;
    [[nodiscard]] std::expected<std::optional<std::string>, Fault> blob(schema::Hash const& hash) override;
    [[nodiscard]] std::expected<schema::Blobs, Fault> blob_states() override;
    [[nodiscard]] std::expected<void, Fault> add(Make const& make) override;

private:
    [[nodiscard]] std::expected<void, Fault> put(Addition const& addition);
    Database database_;
    std::string file_;
    schema::JobFacts facts_;
    State state_;
};

std::expected<Contents, Fault> SqliteStore::contents() {
    Contents contents;
    auto const note = [&](std::string const& unreadable) {
        if (!unreadable.empty()) contents.unreadable.push_back(unreadable);
    };
    if (is_damaged()) contents.unreadable.push_back(state_.damage);
    note(salvage_rows(database_, "device", "id, public_key", [&](Statement const& row) {
        schema::Device device{.id = row.text(1)};
        row.bytes(2, device.key);
        contents.devices.push_back(device);
    }));
    note(salvage_rows(database_, "evidence", evidence_columns,
                      [&](Statement const& row) { contents.entries.push_back(kept_in(row, 1)); }));
    if (!is_damaged() && !contents.unreadable.empty())
        return std::unexpected(Fault{"the job cannot be read",
                                     file_,
                                     contents.unreadable.front(),
                                     {},
                                     "phasewright verify says more"});
    schema::sort_for_showing(contents.entries);
    // A torn file may show a page in two places.
    auto const twice = std::ranges::unique(contents.entries);
    contents.entries.erase(twice.begin(), twice.end());
    return contents;
}

std::expected<std::vector<Kept>, Fault> SqliteStore::entries_of(schema::Kind kind) {
    if (is_damaged()) {  // without its indexes
        auto all = contents();
        if (!all) return std::unexpected(all.error());
        std::erase_if(all->entries, [&](Kept const& one) { return one.kind != name_of(kind); });
        return all->entries;
    }
    auto statement =
        database_.prepare(std::string("SELECT ") + evidence_columns + " FROM evidence WHERE kind = ?");
    if (!statement) return std::unexpected(statement.error());
    statement->bind(1, schema::name_of(kind));
    std::vector<Kept> found;
    for (;;) {
        auto const row = statement->step();
        if (!row) return std::unexpected(row.error());
        if (!*row) break;
        found.push_back(kept_in(*statement, 0));
    }
    schema::sort_for_showing(found);
    return found;
}

std::expected<std::optional<Kept>, Fault> SqliteStore::head_of(std::string const& device) {
    auto statement =
        database_.prepare(std::string("SELECT ") + evidence_columns +
                          " FROM evidence WHERE device = ? ORDER BY number DESC, hash DESC LIMIT 1");
    if (!statement) return std::unexpected(statement.error());
    statement->bind(1, std::string_view(device));
    auto const row = statement->step();
    if (!row) return std::unexpected(row.error());
    if (!*row) return std::optional<Kept>{};
    return std::optional(kept_in(*statement, 0));
}

std::expected<std::optional<std::string>, Fault> SqliteStore::blob(schema::Hash const& hash) {
    auto statement = database_.prepare("SELECT bytes FROM blob WHERE hash = ?");
    if (!statement) return std::unexpected(statement.error());
    statement->bind(1, hash);
    auto const row = statement->step();
    if (row && *row) return std::optional(statement->text(0));
    if (row && !is_damaged()) return std::optional<std::string>{};
    if (!row && !is_damaged()) return std::unexpected(row.error());
    std::optional<std::string> found;  // the index may be what is damaged
    static_cast<void>(salvage_rows(database_, "blob", "hash, bytes", [&](Statement const& one) {
        schema::Hash name{};
        if (one.bytes(1, name) && name == hash) found = one.text(2);
    }));
    return found;
}

std::expected<schema::Blobs, Fault> SqliteStore::blob_states() {
    schema::Blobs states;
    auto const unreadable = salvage_rows(database_, "blob", "hash, bytes", [&](Statement const& row) {
        schema::Hash name{};
        auto const bytes = row.text(2);
        if (row.bytes(1, name)) states[name] = {schema::sha256(bytes), bytes.size()};
    });
    if (!unreadable.empty() && !is_damaged())
        return std::unexpected(Fault{"the job cannot be read",
                                     file_,
                                     unreadable,
                                     {},
                                     "phasewright job export saves what can be read"});
    return states;
}

std::expected<void, Fault> SqliteStore::put(Addition const& addition) {
    auto device = database_.prepare("INSERT INTO device VALUES (?, ?) ON CONFLICT DO NOTHING");
    auto evidence =
        database_.prepare("INSERT INTO evidence VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING");
    auto blob = database_.prepare("INSERT INTO blob VALUES (?, ?) ON CONFLICT DO NOTHING");
    for (auto const* const statement : {&device, &evidence, &blob})
        if (!*statement) return std::unexpected(statement->error());
    for (auto const& one : addition.devices) {
        device->bind(1, std::string_view(one.id));
        device->bind(2, one.key);
        if (auto const done = device->run(); !done) return done;
    }
    for (auto const& one : addition.blobs) {
        blob->bind(1, one.hash);
        blob->bind_bytes(2, one.bytes);
        if (auto const done = blob->run(); !done) return done;
    }
    for (auto const& one : addition.entries) {
        evidence->bind(1, std::string_view(one.device));
        evidence->bind(2, static_cast<std::int64_t>(one.number));
        evidence->bind(3, one.hash);
        evidence->bind(4, std::string_view(one.text));
        evidence->bind(5, one.signature);
        evidence->bind(6, std::string_view(one.kind));
        evidence->bind(7, one.instant_ms);
        evidence->bind(8, std::string_view(one.point));
        if (auto const done = evidence->run(); !done) return done;
    }
    return {};
}

std::expected<void, Fault> SqliteStore::add(Make const& make) {
    if (state_.read_only)
        return std::unexpected(Fault{"nothing can be added to the job",
                                     file_,
                                     *state_.read_only,
                                     {},
                                     "work on with a whole copy that can be written"});
    auto transaction = Transaction::begin(database_);
    if (!transaction) return std::unexpected(transaction.error());
    auto const addition = make();
    if (!addition) return std::unexpected(addition.error());
    if (auto const done = put(*addition); !done) return done;
    return transaction->commit();
}

std::expected<schema::JobFacts, Fault> facts_in(Database const& database) {
    auto statement = database.prepare("SELECT id, name, made_at FROM job");
    if (!statement) return std::unexpected(statement.error());
    auto const row = statement->step();
    if (!row) return std::unexpected(row.error());
    if (!*row) return std::unexpected(Fault{"the job does not say what it is", {}, {}, {}, {}});
    return schema::JobFacts{statement->text(0), statement->text(1), statement->text(2)};
}

// Of a job whose own row is lost: its entries name it.
schema::JobFacts facts_from_entries(Database const& database) {
    schema::JobFacts facts{.name = "(unreadable)"};
    static_cast<void>(salvage_rows(database, "evidence", "text", [&](Statement const& row) {
        auto const entry = schema::entry_of(row.text(1));
        if (entry && facts.id.empty()) facts.id = entry->job;
    }));
    return facts;
}

Fault no_job(std::string const& file) {
    return {"the file is no job, or only the beginning of one",
            file,
            {},
            "a file made by phasewright job new",
            "look at its name"};
}

std::expected<std::unique_ptr<Store>, Fault> salvaged(JobPlace const& place, std::string const& damage) {
    for (auto const access : {Access::salvage, Access::salvage_alone}) {
        auto database = Database::open({place.file, place.vfs}, access, false);
        if (!database) continue;
        auto const id = database->number_of("PRAGMA application_id");
        if (!id && database->says_cannot_open()) continue;
        if (!id || *id != application_id) return std::unexpected(no_job(place.file));
        auto facts = facts_in(*database);
        auto const known = facts ? *facts : facts_from_entries(*database);
        return std::make_unique<SqliteStore>(std::move(*database), place.file, known,
                                             SqliteStore::State{"it is damaged: " + damage, damage});
    }
    return std::unexpected(no_job(place.file));
}

std::expected<std::string, Fault> damage_in(Database const& database, int version) {
    auto const words = words_of_schema(database);
    auto const expected = expected_words(version);
    if (!words && database.says_damaged()) return words.error().found;
    if (!words) return std::unexpected(words.error());
    if (!expected) return std::unexpected(expected.error());
    if (*words != *expected)
        return "its tables and triggers are not those of version " + std::to_string(version);
    auto const checked = database.text_of("PRAGMA quick_check(1)");
    if (!checked && database.says_damaged()) return checked.error().found;
    if (!checked) return std::unexpected(checked.error());
    return *checked == "ok" ? std::string{} : *checked;
}

// What the header says, before anything else is believed.
std::expected<int, Fault> version_in(Database const& database, std::string const& file) {
    auto const id = database.number_of("PRAGMA application_id");
    if (!id) return std::unexpected(database.says_no_database() ? no_job(file) : id.error());
    auto const version = database.number_of("PRAGMA user_version");
    if (!version) return std::unexpected(version.error());
    if (*id != application_id || *version < 1) return std::unexpected(no_job(file));
    if (*version > newest_version())
        return std::unexpected(Fault{"the job was written by a newer phasewright", file,
                                     "schema version " + std::to_string(*version),
                                     "at most " + std::to_string(newest_version()),
                                     "open it with that or a later release; this one leaves it as it is"});
    return static_cast<int>(*version);
}

std::expected<void, Fault> prepare_for_writing(Database& database, int version) {
    // As FULL, and a rollback journal that was deleted stays deleted: one that comes back after a power cut
    // would undo what was written in WAL mode since.
    if (auto const set = database.run("PRAGMA synchronous = EXTRA"); !set) return set;
    auto const mode = database.text_of("PRAGMA journal_mode = WAL");
    if (!mode) return std::unexpected(mode.error());
    if (version < newest_version()) return migrate(database, migrations());
    return {};
}

}  // namespace

Blob blob_of(std::string bytes) {
    auto const hash = schema::sha256(bytes);
    return {hash, std::move(bytes)};
}

namespace {
std::expected<void, Fault> fill_job(Database::Place const& place, schema::JobFacts const& facts) {
    auto database = Database::open(place, Access::read_write, true);
    if (!database) return std::unexpected(database.error());
    if (auto const set = database->run("PRAGMA synchronous = EXTRA"); !set) return set;
    if (auto const made = migrate(*database, migrations()); !made) return made;
    auto row = database->prepare("INSERT INTO job VALUES (1, ?, ?, ?)");
    if (!row) return std::unexpected(row.error());
    row->bind(1, std::string_view(facts.id));
    row->bind(2, std::string_view(facts.name));
    row->bind(3, std::string_view(facts.made_at));
    if (auto const written = row->run(); !written) return written;
    auto const mode = database->text_of("PRAGMA journal_mode = WAL");
    if (!mode) return std::unexpected(mode.error());
    return {};
}
}  // namespace

std::expected<std::unique_ptr<Store>, Fault> create_job(JobPlace const& place,
                                                        schema::JobFacts const& facts) {
    if (!schema::is_hex(facts.id, 32) || facts.name.empty() || !schema::may_stand(facts.name) ||
        !schema::instant_ms(facts.made_at))
        return std::unexpected(Fault{"a job needs an id, a name and a time", place.file, {}, {}, {}});
    auto const made =
        place.vfs.empty()
            ? make_whole(place.file, [&](std::string const& part) { return fill_job({part, {}}, facts); })
            : fill_job({place.file, place.vfs}, facts);
    if (!made) return std::unexpected(made.error());
    return open_job(place);
}

std::expected<std::unique_ptr<Store>, Fault> open_job(JobPlace const& place) {
    std::error_code none;
    auto const kind = std::filesystem::status(place.file, none).type();
    if (place.vfs.empty() && kind == std::filesystem::file_type::not_found)
        return std::unexpected(
            Fault{"there is no such job", place.file, {}, {}, "phasewright job new makes one"});
    if (place.vfs.empty() && kind != std::filesystem::file_type::regular)
        return std::unexpected(no_job(place.file));
    auto database = Database::open({place.file, place.vfs}, Access::read_write, false);
    if (!database) return std::unexpected(database.error());
    auto version = version_in(*database, place.file);
    if (!version && database->says_cannot_open()) {  // write-protected, and its log with it
        database = Database::open({place.file, place.vfs}, Access::salvage_alone, false);
        if (!database) return std::unexpected(database.error());
        version = version_in(*database, place.file);
    }
    auto const salvage = [&](std::string const& damage) {
        database = std::unexpected(Fault{});  // closed: its log belongs to whoever reads next
        return salvaged(place, damage);
    };
    if (!version && database->says_damaged() && !database->says_no_database())
        return salvage(version.error().found);
    if (!version) return std::unexpected(version.error());
    SqliteStore::State state;
    if (database->is_read_only()) state.read_only = "it lies where this program may not write";
    auto const damage = damage_in(*database, *version);
    if (!damage) return std::unexpected(damage.error());
    if (!damage->empty()) return salvage(*damage);
    if (!state.read_only) {
        if (auto const ready = prepare_for_writing(*database, *version); !ready)
            return std::unexpected(ready.error());
    } else if (*version < newest_version()) {
        return std::unexpected(
            Fault{"the job is of an older phasewright and cannot be brought up to date where it lies",
                  place.file,
                  {},
                  {},
                  "copy it to where it can be written"});
    }
    auto facts = facts_in(*database);
    if (!facts) return salvage(facts.error().what);
    return std::make_unique<SqliteStore>(std::move(*database), place.file, *facts, std::move(state));
}

std::expected<void, Fault> copy_job(std::string const& file, std::string const& copy) {
    auto const whole = open_job({file, {}});
    if (!whole) return std::unexpected(whole.error());
    if ((*whole)->is_damaged())
        return std::unexpected(Fault{"a damaged job is not copied as if it were whole",
                                     file,
                                     {},
                                     {},
                                     "phasewright job export saves what can be read"});
    return make_whole(copy, [&](std::string const& part) -> std::expected<void, Fault> {
        auto database = Database::open({file, {}}, Access::read_only, false);
        if (!database) return std::unexpected(database.error());
        auto into = database->prepare("VACUUM INTO ?");
        if (!into) return std::unexpected(into.error());
        into->bind(1, std::string_view(part));
        return into->run();
    });
}

}  // namespace phasewright::store
