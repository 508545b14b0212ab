// What happens to files on real machines: a program ended in the middle, a disk that is full, a folder that
// cannot be written, another program with the job open, a copy torn off or spoilt anywhere.
#include <doctest/doctest.h>

#include <chrono>
#include <csignal>
#include <cstdlib>
#include <fstream>
#include <random>
#include <sstream>
#include <thread>

#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "records/store/jobs_in_tests.hpp"
#include "records/store/sqlite.hpp"

using namespace phasewright::store;
namespace schema = phasewright::schema;
namespace fs = std::filesystem;

namespace {

std::string bytes_of_file(std::string const& file) {
    std::ifstream in(file, std::ios::binary);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}
void write_file(std::string const& file, std::string const& bytes) {
    std::ofstream(file, std::ios::binary) << bytes;
}

// A child that writes hashes down a pipe as they are acknowledged.
struct Child {
    pid_t id = -1;
    int from = -1;
    Child(std::function<void(int)> const& work) {
        int ends[2] = {-1, -1};
        REQUIRE(::pipe(ends) == 0);
        id = ::fork();
        REQUIRE(id >= 0);
        if (id == 0) {
            ::close(ends[0]);
            work(ends[1]);
            ::_exit(0);
        }
        ::close(ends[1]);
        from = ends[0];
    }
    Child(Child const&) = delete;
    Child& operator=(Child const&) = delete;
    ~Child() { ::close(from); }
    std::string all() {
        std::string text;
        char buffer[4096];
        for (ssize_t got = 0; (got = ::read(from, buffer, sizeof buffer)) > 0;)
            text.append(buffer, static_cast<std::size_t>(got));
        int status = 0;
        ::waitpid(id, &status, 0);
        return text;
    }
};

void say(int to, std::string const& text) {
    if (::write(to, text.data(), text.size()) < 0) ::_exit(1);
}

std::string hex(schema::Hash const& hash) {
    std::string text;
    constexpr char digits[] = "0123456789abcdef";
    for (auto const byte : hash) text += {digits[byte >> 4U], digits[byte & 15U]};
    return text + "\n";
}

std::size_t missing(std::string const& acknowledged, Store& store) {
    std::set<std::string> there;
    for (auto const& hash : hashes_in(store)) there.insert(hex(hash));
    std::istringstream lines(acknowledged);
    std::size_t gone = 0;
    for (std::string line; std::getline(lines, line);)
        if (line.size() == 64 && !there.contains(line + "\n")) ++gone;
    return gone;
}

std::string job_with_evidence(std::string const& file, int notes) {
    auto const job = create_job({file, {}}, test_facts());
    REQUIRE(job);
    for (int k = 1; k <= notes; ++k) {
        auto draft = note(k, std::string(static_cast<std::size_t>(k % 7) * 300, 'x'));
        auto const blob = blob_of(std::string(static_cast<std::size_t>(k % 5) * 2500, static_cast<char>(k)));
        draft.blobs = {name_of(blob, "text/plain", "a.txt")};
        REQUIRE(add_evidence(**job, test_device(static_cast<unsigned char>(1 + k % 3)), {draft}, {blob}));
    }
    return file;
}

}  // namespace

TEST_CASE("a program that is killed in the middle loses nothing that was acknowledged") {
    TestFolder const folder;
    auto const file = job_with_evidence(folder.file("a.job"), 3);
    std::mt19937 dice(5);
    std::string acknowledged;
    for (int round = 0; round < 8; ++round) {
        Child child([&](int to) {
            auto const job = open_job({file, {}});
            if (!job) ::_exit(2);
            for (int k = 0;; ++k) {
                auto const added =
                    add_evidence(**job, test_device(1), {note(k % 3600, std::string(700, 'y'))}, {});
                if (!added) ::_exit(3);
                say(to, hex(added->front()));
            }
        });
        std::this_thread::sleep_for(std::chrono::milliseconds(20 + dice() % 80));
        ::kill(child.id, SIGKILL);
        acknowledged += child.all();
        auto const job = open_job({file, {}});
        REQUIRE_MESSAGE(job, sentence(job));
        CHECK(!(*job)->is_damaged());
        CHECK(verify_job(**job)->unchanged());
        CHECK(missing(acknowledged, **job) == 0);
    }
    MESSAGE((acknowledged.size() / 65), " entries acknowledged before 8 kills");
    CHECK(acknowledged.size() / 65 > 8);
}

TEST_CASE("a file that may not grow refuses in a sentence and keeps what was acknowledged") {
    TestFolder const folder;
    auto const file = job_with_evidence(folder.file("a.job"), 3);
    Child child([&](int to) {
        ::signal(SIGXFSZ, SIG_IGN);
        rlimit const limit{300'000, 300'000};
        ::setrlimit(RLIMIT_FSIZE, &limit);
        auto const job = open_job({file, {}});
        for (int k = 0; k < 5000; ++k) {
            auto const added =
                add_evidence(**job, test_device(1), {note(k % 3600, std::string(700, 'y'))}, {});
            if (!added) say(to, phasewright::quantity::to_sentence(added.error()) + "\n");
            if (!added) ::_exit(0);
            say(to, hex(added->front()));
        }
    });
    auto const said = child.all();
    CHECK_MESSAGE(said.find("nothing was added") != std::string::npos,
                  said.substr(said.size() > 300 ? said.size() - 300 : 0));
    auto const job = open_job({file, {}});
    REQUIRE(job);
    CHECK(verify_job(**job)->unchanged());
    CHECK(missing(said, **job) == 0);
    CHECK(add_evidence(**job, test_device(1), {note(1, "room again")}, {}));
}

TEST_CASE("where nobody may write the job is read, and says why nothing can be added") {
    TestFolder const folder;
    auto const file = job_with_evidence(folder.file("a.job"), 4);
    fs::permissions(folder.path, fs::perms{0555});
    fs::permissions(file, fs::perms{0444});
    Child child([&](int to) {
        if (::geteuid() == 0 && (::setgid(65534) != 0 || ::setuid(65534) != 0)) ::_exit(1);
        auto const job = open_job({file, {}});
        if (!job) say(to, phasewright::quantity::to_sentence(job.error()));
        if (!job) ::_exit(0);
        auto const verified = verify_job(**job);
        say(to, verified && verified->unchanged() ? "unchanged; " : "changed; ");
        auto const added = add_evidence(**job, test_device(1), {note(1, "x")}, {});
        say(to, added ? "added" : phasewright::quantity::to_sentence(added.error()));
    });
    auto const said = child.all();
    fs::permissions(folder.path, fs::perms{0755});
    CHECK(said.starts_with("unchanged; "));
    CHECK_MESSAGE(said.find("nothing can be added") != std::string::npos, said);
    CHECK(said.find("may not write") != std::string::npos);
}

TEST_CASE("while another program writes, adding waits, then says so, and goes through afterwards") {
    TestFolder const folder;
    auto const file = job_with_evidence(folder.file("a.job"), 2);
    auto const job = open_job({file, {}});
    auto other = Database::open({file, {}}, Access::read_write, false);
    REQUIRE(other);
    REQUIRE(other->run("BEGIN IMMEDIATE"));
    auto const added = add_evidence(**job, test_device(1), {note(1, "x")}, {});
    CHECK(sentence(added).find("another program is writing") != std::string::npos);
    REQUIRE(other->run("ROLLBACK"));
    CHECK(add_evidence(**job, test_device(1), {note(1, "x")}, {}));
}

namespace {

struct Original {
    std::set<schema::Kept> entries;
    std::size_t most = 0;  // that a torn copy still showed
    int opened = 0, refused = 0;
};

// Whatever happened to the copy: it is refused as no job, or opened and shows only what was there, or names
// what was changed.
void look_at(std::string const& copy, Original& original) {
    auto const job = open_job({copy, {}});
    if (!job) {
        ++original.refused;
        CHECK(!job.error().what.empty());
        return;
    }
    ++original.opened;
    auto const contents = (*job)->contents();
    auto const verified = verify_job(**job);
    if (!contents || !verified) return;
    bool const all_there = contents->entries.size() == original.entries.size();
    std::size_t same = 0;
    for (auto const& kept : contents->entries) same += original.entries.contains(kept) ? 1U : 0U;
    original.most = std::max(original.most, (*job)->is_damaged() ? same : 0);
    // An entry that is not as it was breaks its chain.
    if (same < contents->entries.size()) CHECK(!verified->unchanged());
    // What is missing is told, by the chain or by the job.
    if (!all_there) CHECK(((*job)->is_damaged() || !verified->unchanged()));
    if ((*job)->is_damaged()) CHECK(!add_evidence(**job, test_device(1), {note(1, "x")}, {}));
}

int step_of_copies() {
    char const* const wanted = std::getenv("PHASEWRIGHT_TORN_COPIES");  // every so many bytes
    return wanted == nullptr ? 4999 : std::max(1, std::atoi(wanted));
}

Original original_of(std::string const& file) {
    Original original;
    auto const contents = (*open_job({file, {}}))->contents();
    original.entries.insert(contents->entries.begin(), contents->entries.end());
    return original;
}

}  // namespace

TEST_CASE("a copy torn off at any byte opens read-only with what can be read, or is refused as no job") {
    TestFolder const folder;
    auto const file = job_with_evidence(folder.file("a.job"), 40);
    auto original = original_of(file);
    auto const bytes = bytes_of_file(file);
    auto const copy = folder.file("torn.job");
    for (std::size_t size = 0; size < bytes.size(); size += static_cast<std::size_t>(step_of_copies())) {
        write_file(copy, bytes.substr(0, size));
        look_at(copy, original);
    }
    for (std::size_t size = 4096; size < bytes.size(); size += 4096 * 5) {
        write_file(copy, bytes.substr(0, size));
        look_at(copy, original);
    }
    write_file(copy, bytes.substr(0, bytes.size() - 4096));
    auto const job = open_job({copy, {}});
    REQUIRE(job);
    CHECK((*job)->is_damaged());
    look_at(copy, original);
    MESSAGE(original.opened, " opened, ", original.refused, " refused; at most ", original.most, " of ",
            original.entries.size(), " entries read from a torn copy");
    CHECK(original.opened > original.refused);
    CHECK(original.most > original.entries.size() / 2);
}

TEST_CASE("a copy with bytes spoilt anywhere shows no entry that was not there without naming it") {
    TestFolder const folder;
    auto const file = job_with_evidence(folder.file("a.job"), 40);
    auto original = original_of(file);
    auto const bytes = bytes_of_file(file);
    auto const copy = folder.file("spoilt.job");
    std::mt19937 dice(11);
    for (int k = 0; k < 400'000 / step_of_copies(); ++k) {
        auto spoilt = bytes;
        auto const size = dice() % 3 == 0 ? 512U : 1 + dice() % 8;
        auto const at = dice() % (bytes.size() - size);
        for (std::size_t b = 0; b < size; ++b) spoilt[at + b] = static_cast<char>(dice() % 256);
        write_file(copy, spoilt);
        look_at(copy, original);
    }
    MESSAGE(original.opened, " opened, ", original.refused, " refused");
    CHECK(original.opened > 10);
    CHECK(original.most <= original.entries.size());
}
