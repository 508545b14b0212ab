#include "app/commands/confirm_command.hpp"

#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <sstream>
#include <vector>

#include <nlohmann/json.hpp>

#include "app/commands/terminal_lines.hpp"

using namespace phasewright;
using nlohmann::json;

namespace {
// The office of the demo: 231/229/232 V, 41.2/38.7/44.0 A at 23.07 degrees lagging (computed).
std::string line(std::string const& id, std::string const& i, std::string const& p, std::string const& q,
                 std::string const& time) {
    auto const at = time.empty() ? std::string{} : R"(,"time":")" + time + '"';
    return R"({"id":")" + id +
           R"(","service":"3P4W","nominal":{"v_ln":230,"v_ll":400,"hz":50},"ct_planned":[100,5],"ct_output":"5A","flow":"import",)"
           R"("snapshots":[{"v":[231,229,232],"i":)" +
           i + R"(,"p":)" + p + R"(,"q":)" + q + at + "}]}\n";
}
std::string reversed(std::string const& id, std::string const& time = "2026-05-20T10:00:00+02:00") {
    return line(id, "[41.2,38.7,44.0]", "[8756,-8153,9391]", "[3730,-3473,4001]", time);
}
std::string mended(std::string const& id, std::string const& time = "2026-05-20T10:25:00+02:00") {
    return line(id, "[41.2,38.7,44.0]", "[8756,8153,9391]", "[3730,3473,4001]", time);
}
std::string dead(std::string const& id, std::string const& time = "2026-05-20T10:00:00+02:00") {
    return line(id, "[41.2,38.7,0]", "[8756,8153,0]", "[3730,3473,0]", time);
}

struct Said {
    int status = 0;
    std::string out, err;
    [[nodiscard]] std::vector<json> lines() const {
        std::vector<json> all;
        std::istringstream in(out);
        for (std::string one; std::getline(in, one);) all.push_back(json::parse(one));
        return all;
    }
};

class Folder {
public:
    Folder()
        : path_(std::filesystem::temp_directory_path() /
                ("phasewright-confirm-" + std::to_string(++count_))) {
        std::filesystem::create_directories(path_);
    }
    Folder(Folder const&) = delete;
    Folder& operator=(Folder const&) = delete;
    ~Folder() { std::filesystem::remove_all(path_); }
    [[nodiscard]] std::string holding(std::string const& name, std::string const& text) const {
        std::ofstream(path_ / name, std::ios::binary) << text;
        return (path_ / name).string();
    }

private:
    static inline int count_ = 0;
    std::filesystem::path path_;
};

Said said_of(std::string const& before, std::string const& after, bool as_json = true,
             std::string const& moved_at = "") {
    Folder const folder;
    std::ostringstream out;
    std::ostringstream err;
    Said said;
    said.status = commands::confirm_command({.before_file = folder.holding("before.jsonl", before),
                                             .after_file = folder.holding("after.jsonl", after),
                                             .moved_at = moved_at,
                                             .json = as_json,
                                             .priors_file = {}},
                                            out, err);
    said.out = out.str();
    said.err = err.str();
    return said;
}
bool says(std::string const& text, std::string const& words) { return text.find(words) != std::string::npos; }
}  // namespace

TEST_CASE("pairs are matched by id, whatever their order, and each gets a line with every field") {
    auto const said = said_of(reversed("one") + "\n" + dead("two"), mended("two") + mended("one"), true,
                              "2026-05-20T10:20:00+02:00");
    CHECK(said.status == 0);
    CHECK(said.err.empty());
    auto const lines = said.lines();
    REQUIRE(lines.size() == 2);
    CHECK(lines[0]["id"] == "two");
    CHECK(lines[0]["state"] == "confirmed");
    CHECK(lines[0]["by_diagnosis_alone"] == true);
    CHECK(lines[1]["id"] == "one");
    CHECK(lines[1]["state"] == "confirmed");
    CHECK(lines[1]["moved_at"] == "2026-05-20T10:20:00+02:00");
    for (auto const* const field : {"id", "contract", "state", "in_words", "reasons", "moved_at",
                                    "by_diagnosis_alone", "together", "elements", "findings", "verdict"})
        CHECK_MESSAGE(lines[1].contains(field), field);
    CHECK(lines[1]["elements"][1]["predicted"]["p"].get<double>() == doctest::Approx(8153).epsilon(0.001));
    CHECK(lines[1]["elements"][1]["agrees"] == true);
    CHECK(lines[1]["verdict"]["state"] == "as_planned");
}

TEST_CASE("any judgement of every pair ends with 0") {
    auto const said = said_of(reversed("stale") + reversed("unmended") + reversed("undated"),
                              mended("stale", "2026-05-20T10:00:00+02:00") +
                                  line("unmended", "[42.0,38.9,43.1]", "[8900,-8200,9200]",
                                       "[3800,-3490,3920]", "2026-05-20T10:25:00+02:00") +
                                  mended("undated", ""));
    CHECK(said.status == 0);
    auto const lines = said.lines();
    REQUIRE(lines.size() == 3);
    CHECK(lines[0]["state"] == "not_newer");
    CHECK(lines[0]["verdict"].is_null());
    CHECK(lines[1]["state"] == "differs");
    CHECK(says(lines[1]["in_words"], "element 2 (L2)"));
    CHECK(lines[2]["state"] == "cannot_compare");
}

TEST_CASE(
    "each id without its partner and each line that cannot be used is said once, and the rest is judged") {
    auto const before = reversed("both") + reversed("gone") + "{\n" + reversed("twice") + reversed("twice");
    auto const after =
        mended("both") + mended("new") + R"({"id":"gone-bad","service":"3P4W"})" + "\n" + mended("twice");
    auto const said = said_of(before, after);
    CHECK(said.status == 2);
    std::vector<std::string> errors;
    std::vector<std::string> judged;
    for (auto const& one : said.lines()) {
        auto const id = one["id"].is_null() ? std::string{"?"} : one["id"].get<std::string>();
        (one.contains("error") ? errors : judged).push_back(id);
        if (one.contains("error")) CHECK(one.contains("file"));
    }
    CHECK(judged == std::vector<std::string>{"both", "twice"});
    CHECK(errors == std::vector<std::string>{"?", "twice", "gone-bad", "gone", "new"});
    auto const for_people = said_of(before, after, false);
    CHECK(for_people.status == 2);
    CHECK(says(for_people.err, "before.jsonl:2 gone"));
    CHECK(says(for_people.err, "after.jsonl:2 new"));
    CHECK(says(for_people.err, "no partner"));
    CHECK_FALSE(says(for_people.out, "no partner"));
}

TEST_CASE("lines for people keep to 80 columns, say the danger first and never that anything is safe") {
    auto const said = said_of(reversed("one") + dead("a meter with a rather long name of its own"),
                              mended("one") + dead("a meter with a rather long name of its own"), false);
    CHECK(said.status == 0);
    std::istringstream in(said.out);
    for (std::string one; std::getline(in, one);) CHECK_MESSAGE(commands::columns_of(one) <= 80, one);
    CHECK(says(said.out, "not newer"));
    // The dead loop was a stop before the move; a reading that is not newer does not take it back.
    auto const stop = said.out.find("stop: ");
    REQUIRE(stop != std::string::npos);
    CHECK(stop < said.out.find("is not newer"));
    CHECK_FALSE(says(said.out, "safe"));
    CHECK_FALSE(says(said.out, "\x1b"));
    CHECK(says(said.out, "qualified person in charge"));
}

TEST_CASE("a moment of the move that is none, or tells no offset, is refused before anything is judged") {
    for (auto const* const time : {"noon", "2026-05-20T10:20:00", "2026-13-20T10:20:00Z"}) {
        auto const said = said_of(reversed("one"), mended("one"), true, time);
        CHECK(said.status == 2);
        CHECK(said.out.empty());
        CHECK(says(said.err, "--moved-at"));
    }
}

TEST_CASE("a file that cannot be read, a folder and an empty file are refused by name") {
    Folder const folder;
    auto const good = folder.holding("good.jsonl", mended("one"));
    for (auto const& bad :
         {std::string{"/no/such/file.jsonl"}, std::string{"/"}, folder.holding("empty.jsonl", "")}) {
        std::ostringstream out;
        std::ostringstream err;
        CHECK(commands::confirm_command(
                  {.before_file = bad, .after_file = good, .moved_at = {}, .priors_file = {}}, out, err) ==
              2);
        CHECK(says(err.str(), bad));
        CHECK(out.str().empty());
    }
}

TEST_CASE("the fields that a line carries along come back with its judgement") {
    auto after = mended("one");
    after.insert(1, R"("x_round":7,)");
    auto const lines = said_of(reversed("one"), after).lines();
    REQUIRE(lines.size() == 1);
    CHECK(lines[0]["x_round"] == 7);
}
