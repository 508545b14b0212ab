#include "records/store/store.hpp"

#include <doctest/doctest.h>

#include <fstream>
#include <iterator>

#include "records/schema/text_form.hpp"
#include "records/store/jobs_in_tests.hpp"
#include "records/store/migrations.hpp"
#include "records/store/sqlite.hpp"

using namespace phasewright::store;
namespace schema = phasewright::schema;
namespace fs = std::filesystem;

namespace {

std::unique_ptr<Store> new_job(std::string const& file) {
    auto made = create_job({file, {}}, test_facts());
    REQUIRE_MESSAGE(made, sentence(made));
    return std::move(*made);
}

Database raw(std::string const& file) {
    auto database = Database::open({file, {}}, Access::read_write, false);
    REQUIRE(database);
    return std::move(*database);
}

void change_behind_our_back(std::string const& file, std::string const& sql) {
    auto database = raw(file);
    for (auto const* const trigger : {"evidence_is_kept", "evidence_stays", "blob_is_kept", "blob_stays"})
        REQUIRE(database.run(std::string("DROP TRIGGER ") + trigger));
    auto const done = database.run(sql);
    REQUIRE_MESSAGE(done, sentence(done));
}

}  // namespace

TEST_CASE("evidence that was added is there when the job is opened again, in one chain, signed") {
    TestFolder const folder;
    auto const file = folder.file("a job ?#%.job");  // letters that mean something in a URI
    {
        auto const job = new_job(file);
        auto const blob = blob_of(std::string("\0photo", 6));
        auto draft = note(1, "first");
        draft.blobs = {name_of(blob, "image/png", "a.png")};
        auto const added = add_evidence(*job, test_device(1), {draft, note(2, "second")}, {blob});
        REQUIRE(added);
        CHECK(added->size() == 2);
        REQUIRE(add_evidence(*job, test_device(2), {note(3, "third")}, {}));
    }
    CHECK(!fs::exists(file + "-wal"));
    auto const job = open_job({file, {}});
    REQUIRE_MESSAGE(job, sentence(job));
    CHECK((*job)->job() == test_facts());
    CHECK(!(*job)->is_damaged());
    auto const contents = (*job)->contents();
    REQUIRE(contents);
    CHECK(contents->entries.size() == 5);  // two devices introduced themselves
    CHECK(contents->devices.size() == 2);
    CHECK((*job)->blob(schema::sha256(std::string("\0photo", 6)))->value().size() == 6);
    auto const verified = verify_job(**job);
    REQUIRE(verified);
    CHECK(verified->unchanged());
}

TEST_CASE("the tables themselves refuse to be changed or emptied") {
    TestFolder const folder;
    auto const file = folder.file("a.job");
    auto const job = new_job(file);
    auto const blob = blob_of("x");
    auto draft = note(1, "x");
    draft.blobs = {name_of(blob, "text/plain", "x")};
    REQUIRE(add_evidence(*job, test_device(1), {draft}, {blob}));
    auto database = raw(file);
    for (auto const* const sql :
         {"UPDATE evidence SET text = 'x'", "DELETE FROM evidence", "UPDATE blob SET bytes = x'00'",
          "DELETE FROM blob", "DELETE FROM device", "UPDATE device SET public_key = zeroblob(32)",
          "UPDATE job SET name = 'x'", "DELETE FROM job",
          "INSERT INTO evidence SELECT 'nobody', 1, zeroblob(32), '', zeroblob(64), '', 0, ''",
          "INSERT INTO job VALUES (2, '', '', '')"})
        CHECK_MESSAGE(!database.run(sql), sql);
}

TEST_CASE("what somebody changes behind our back is named, and the job is opened read-only") {
    TestFolder const folder;
    auto const file = folder.file("a.job");
    {
        auto const job = new_job(file);
        for (int k = 1; k < 6; ++k)
            REQUIRE(add_evidence(*job, test_device(1), {note(k, "note " + std::to_string(k))}, {}));
    }
    change_behind_our_back(file,
                           "UPDATE evidence SET text = replace(text, 'note 3', 'note 9') WHERE number = 4");
    auto const job = open_job({file, {}});
    REQUIRE(job);
    CHECK((*job)->read_only_because().value_or("").find("tables and triggers") != std::string::npos);
    CHECK(!add_evidence(**job, test_device(1), {note(9, "x")}, {}));
    auto const verified = verify_job(**job);
    REQUIRE(verified);
    CHECK(!verified->unchanged());
    auto const& chain = verified->chains.front();
    CHECK(chain.sound_number == 3);
    CHECK(chain.breaks.front().number == 4);
    CHECK(chain.breaks.front().kind == "note");
    CHECK(chain.breaks.front().time == test_time(3));
    CHECK(chain.breaks.front().what == "its text is not what was sealed");
}

TEST_CASE("the plan is changed, undone and redone in the file, and every version stays") {
    TestFolder const folder;
    auto const job = new_job(folder.file("a.job"));
    auto const van = test_device(1);
    CHECK(!current_plan(*job));
    REQUIRE(change_plan(*job, van, "plan a", {test_time(1), "Ada Marlow", "first"}));
    CHECK(!change_plan(*job, van, "plan a", {test_time(2), "", ""}));  // nothing new
    REQUIRE(change_plan(*job, van, "plan b", {test_time(3), "Ada Marlow", "taps"}));
    REQUIRE(undo_plan(*job, van, {test_time(4), "Ben Okoro", "wrong panel"}));
    CHECK(*current_plan(*job) == "plan a");
    CHECK(!undo_plan(*job, van, {test_time(5), "", ""}));
    REQUIRE(redo_plan(*job, van, {test_time(6), "Ada Marlow", ""}));
    CHECK(*current_plan(*job) == "plan b");
    auto const history = plan_history_of(*job);
    REQUIRE(history);
    CHECK(history->all.size() == 4);
    CHECK(history->all[2].by == "Ben Okoro");
    CHECK(verify_job(*job)->unchanged());
    CHECK(!add_evidence(*job, van, {{.time = test_time(7), .kind = schema::Kind::plan}}, {}));
}

TEST_CASE("an entry that names a file which was not given is refused, and nothing is added") {
    TestFolder const folder;
    auto const job = new_job(folder.file("a.job"));
    auto draft = note(2, "x");
    draft.blobs = {{schema::sha256("gone"), "text/plain", 4, "gone.txt"}};
    CHECK(!add_evidence(*job, test_device(1), {note(1, "x"), draft}, {}));
    CHECK(hashes_in(*job).empty());
}

TEST_CASE("what is no job, a job that is there, and a job of a newer release are refused with what to do") {
    TestFolder const folder;
    auto const file = folder.file("a.job");
    static_cast<void>(new_job(file));
    CHECK(sentence(create_job({file, {}}, test_facts())).find("there is a file of that name already") !=
          std::string::npos);
    CHECK(sentence(open_job({folder.file("none.job"), {}})).find("there is no such job") !=
          std::string::npos);
    CHECK(sentence(open_job({folder.path.string(), {}})).find("no job") != std::string::npos);
    std::ofstream(folder.file("text")) << std::string(5000, 'x');
    CHECK(sentence(open_job({folder.file("text"), {}})).find("no job") != std::string::npos);
    std::ofstream(folder.file("empty")).close();
    CHECK(sentence(open_job({folder.file("empty"), {}})).find("no job") != std::string::npos);
    REQUIRE(
        Database::open({folder.file("other.db"), {}}, Access::read_write, true)->run("CREATE TABLE t (a)"));
    CHECK(sentence(open_job({folder.file("other.db"), {}})).find("no job") != std::string::npos);
    REQUIRE(raw(file).run("PRAGMA user_version = 99"));
    auto const newer = sentence(open_job({file, {}}));
    CHECK(newer.find("newer phasewright") != std::string::npos);
    CHECK(newer.find("later release") != std::string::npos);
}

TEST_CASE("migration 1 makes the tables of version 1 from nothing, and doing it again changes nothing") {
    auto database = Database::in_memory();
    REQUIRE(database);
    REQUIRE(migrate(*database, migrations().first(1)));
    CHECK(*database->number_of("PRAGMA user_version") == 1);
    CHECK(*database->number_of("PRAGMA application_id") == application_id);
    CHECK(*database->number_of("SELECT count(*) FROM sqlite_schema WHERE type = 'table'") == 4);
    CHECK(*database->number_of(
              "SELECT count(*) FROM pragma_table_list WHERE schema = 'main' AND strict = 1") == 4);
    auto const words = words_of_schema(*database);
    REQUIRE(migrate(*database, migrations()));
    CHECK(*words_of_schema(*database) == *words);
}

// A job is refused for writing when its tables are not these, word for word: a letter changed here would make
// every job that there is read-only. The constant is of the words themselves; a new version gets its own.
TEST_CASE("the words of version 1 are never changed") {
    auto const words = expected_words(1);
    REQUIRE(words);
    CHECK(schema::hex_of(schema::sha256(*words)) ==
          "7d2034d676d1ba0768eb20883d74f40f2912a49c640eba717afaed9054a17201");
}

TEST_CASE("a step that fails half-way leaves the version before, whole") {
    auto database = Database::in_memory();
    REQUIRE(database);
    REQUIRE(migrate(*database, migrations().first(1)));
    auto const words = *words_of_schema(*database);
    Migration const bad{2, "CREATE TABLE extra (a INTEGER) STRICT; INSERT INTO nowhere VALUES (1);"};
    CHECK(!migrate(*database, {&bad, 1}));
    CHECK(*database->number_of("PRAGMA user_version") == 1);
    CHECK(*words_of_schema(*database) == words);
}

TEST_CASE("a copy made while the job is open is whole") {
    TestFolder const folder;
    auto const job = new_job(folder.file("a.job"));
    REQUIRE(add_evidence(*job, test_device(1), {note(1, "x")}, {}));
    auto const copied = copy_job(folder.file("a.job"), folder.file("b.job"));
    REQUIRE_MESSAGE(copied, sentence(copied));
    CHECK(!copy_job(folder.file("a.job"), folder.file("b.job")));
    auto const copy = open_job({folder.file("b.job"), {}});
    REQUIRE_MESSAGE(copy, sentence(copy));
    CHECK(!(*copy)->read_only_because());
    CHECK(hashes_in(**copy) == hashes_in(*job));
    CHECK(std::distance(fs::directory_iterator(folder.path), fs::directory_iterator{}) <=
          6);  // nothing half-made stays
}

TEST_CASE("two copies come together by union: in any order, any grouping and twice over the same set") {
    TestFolder const folder;
    {
        auto const job = new_job(folder.file("0.job"));
        REQUIRE(change_plan(*job, test_device(1), "plan", {test_time(1), "", ""}));
    }
    // Three copies, each changed apart; the first device's key is used in two of them, which makes a fork.
    for (int copy = 1; copy <= 3; ++copy) {
        auto const file = folder.file(std::to_string(copy) + ".job");
        REQUIRE(copy_job(folder.file("0.job"), file));
        auto const job = open_job({file, {}});
        REQUIRE(job);
        auto const blob = blob_of("photo " + std::to_string(copy));
        auto draft = note(10 * copy, "copy " + std::to_string(copy));
        draft.blobs = {name_of(blob, "image/png", "a.png")};
        REQUIRE(add_evidence(**job, test_device(static_cast<unsigned char>(copy == 3 ? 1 : copy)),
                             {draft, note(10 * copy + 1, "x")}, {blob}));
    }
    auto const united = [&](std::vector<int> const& order) {
        auto const file = folder.file("u.job");
        fs::remove(file);
        REQUIRE(copy_job(folder.file(std::to_string(order.front()) + ".job"), file));
        auto const into = open_job({file, {}});
        REQUIRE(into);
        for (auto const copy : order) {
            auto const from = open_job({folder.file(std::to_string(copy) + ".job"), {}});
            REQUIRE(from);
            auto const done = unite(**into, **from);
            REQUIRE_MESSAGE(done, sentence(done));
        }
        auto const verified = verify_job(**into);
        CHECK(verified->unchanged());
        auto contents = (*into)->contents();
        std::ranges::sort(contents->devices);
        return std::pair{contents->entries, contents->devices};
    };
    auto const all = united({1, 2, 3});
    CHECK(all.first.size() == 2 + 2 + 3 + 2);
    for (auto const& order : std::vector<std::vector<int>>{
             {1, 3, 2}, {2, 1, 3}, {2, 3, 1}, {3, 1, 2}, {3, 2, 1}, {1, 2, 3, 1, 2, 3}})
        CHECK(united(order) == all);

    // Grouped otherwise: 1 with (2 with 3).
    fs::copy_file(folder.file("2.job"), folder.file("23.job"));
    {
        auto const pair = open_job({folder.file("23.job"), {}});
        auto const third = open_job({folder.file("3.job"), {}});
        REQUIRE(unite(**pair, **third));
    }
    fs::rename(folder.file("23.job"), folder.file("4.job"));
    CHECK(united({1, 4}) == all);

    auto const other =
        create_job({folder.file("other.job"), {}}, {std::string(32, 'b'), "Other", "2026-11-25T08:00:00Z"});
    auto const one = open_job({folder.file("1.job"), {}});
    CHECK(!unite(**one, **other));
}

TEST_CASE("a device's key is made once, for its owner alone, and refused once others can read it") {
    TestFolder const folder;
    auto const keys = folder.path / "config" / "phasewright";
    auto const first = device_key_in(keys, "van-2");
    REQUIRE_MESSAGE(first, sentence(first));
    auto const again = device_key_in(keys, "another name");
    REQUIRE(again);
    CHECK(again->name == "van-2");
    CHECK(again->key.open == first->key.open);
    CHECK(again->key.secret == first->key.secret);
    auto const rights = fs::perms::owner_read | fs::perms::owner_write;
    CHECK(fs::status(keys / "device.key").permissions() == rights);
    CHECK(fs::status(keys).permissions() == fs::perms::owner_all);
    fs::permissions(keys / "device.key", rights | fs::perms::group_read);
    CHECK(sentence(device_key_in(keys, "van-2")).find("others can read") != std::string::npos);
    fs::permissions(keys / "device.key", rights);
    std::ofstream(keys / "device.key") << "phasewright device key 1\nname van-2\nseed 12\n";
    CHECK(sentence(device_key_in(keys, "van-2")).find("not understood") != std::string::npos);
}
