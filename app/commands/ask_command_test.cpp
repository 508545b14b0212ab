#include "app/commands/ask_command.hpp"

#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <sstream>

#include <nlohmann/json.hpp>
#include <unistd.h>

#include "app/commands/reading_lines.hpp"
#include "app/commands/typed_answer.hpp"

using namespace phasewright;
using namespace phasewright::commands;

namespace {
diagnosis::NextTest asked(std::string kind, std::string at = {}) { return {.kind = std::move(kind), .at = std::move(at)}; }

class Folder {
   public:
    Folder() { std::filesystem::create_directories(path_); }
    ~Folder() { std::filesystem::remove_all(path_); }
    Folder(Folder const&) = delete;
    Folder& operator=(Folder const&) = delete;
    [[nodiscard]] std::string file(std::string const& name, std::string const& text = {}) const {
        auto const path = (path_ / name).string();
        if (!text.empty()) std::ofstream(path) << text;
        return path;
    }

   private:
    std::filesystem::path path_ = std::filesystem::temp_directory_path() / ("phasewright-ask-" + std::to_string(getpid()));
};

// Every CT turned round, on a point that may export: one question settles it.
std::string turned_round(std::string const& id) {
    return R"({"id":")" + id +
           R"(","service":"3P4W","nominal":{"v_ln":230,"v_ll":400,"hz":50},"ct_planned":[100,5],"ct_output":"mV","flow":"both",)"
           R"("load_kind":"generation","rotation":"abc","snapshots":[{"v":[231,229,232],"i":[41.2,38.7,44.0],)"
           R"("p":[9470,8820,10150],"q":[-830,-770,-890],"v_angle":[0,-120,120]}]})";
}

struct Said {
    int status = 0;
    std::string out, err;
};
Said talk(AskOptions const& options, std::string const& typed) {
    std::istringstream in(typed);
    std::ostringstream out;
    std::ostringstream err;
    int const status = ask_command(options, in, out, err);
    return {status, out.str(), err.str()};
}
}  // namespace

TEST_CASE("what is typed becomes an answer in base units, with comma or point, and k before the unit") {
    CHECK(*typed_answer(asked("clamp_primary", "CT2"), "41,2 A")->value == doctest::Approx(41.2));
    CHECK(typed_answer(asked("clamp_primary", "CT2"), "41.2")->at_what == "ct");
    auto const pair = typed_answer(asked("ct_shorted", "CT1"), "41.2 A -> 0,1 A");
    REQUIRE(pair);
    CHECK(*pair->before == doctest::Approx(41.2));
    CHECK(*pair->during == doctest::Approx(0.1));
    auto const power = typed_answer(asked("load_switched", "a"), "before 26.3 kW then 28.3 kW");
    REQUIRE(power);
    CHECK(*power->before == doctest::Approx(26'300.0));
    CHECK(power->at_what == "conductor");
    auto const each = typed_answer(asked("load_switched", "a"), "before 8.8 8.2 9.4 kW during 10.8 8.2 9.4 kW");
    REQUIRE(each);  // one unit for the numbers before it
    CHECK(*each->before_each[0] == doctest::Approx(8800.0));
    CHECK(*each->during_each[0] == doctest::Approx(10'800.0));
    auto const in_watts = typed_answer(asked("load_switched", "a"), "before 8800 8200 9400 during 10800 8200 9400");
    REQUIRE(in_watts);
    REQUIRE(in_watts->during_each.size() == 3);
    CHECK(*in_watts->during_each[0] == doctest::Approx(10'800.0));
    auto const known = typed_answer(asked("load_switched", "a"), "2.5 kW 8800 8200 9400 11300 8200 9400 W");
    REQUIRE(known);
    CHECK(*known->value == doctest::Approx(2500.0));
    CHECK(*known->during_each[0] == doctest::Approx(11'300.0));
    CHECK(typed_answer(asked("generation_stopped"), "Yes")->word == "yes");
    CHECK(*typed_answer(asked("cables_in_window", "CT1"), "1 of 2")->of == doctest::Approx(2.0));
    CHECK(typed_answer(asked("lead_traced", "V2"), "c")->at_what == "terminal");
}

TEST_CASE("what cannot be the answer is refused with what can") {
    for (auto const* const typed : {"", "much", "12 V", "-4 A", "1 2", "nan", "1e300", "41.2 A A"}) {
        auto const answer = typed_answer(asked("clamp_primary", "CT2"), typed);
        CAPTURE(typed);
        REQUIRE_FALSE(answer);
        CHECK_FALSE(answer.error().allowed.empty());
    }
    CHECK_FALSE(typed_answer(asked("cables_in_window", "CT1"), "3 of 2"));
    CHECK_FALSE(typed_answer(asked("generation_stopped"), "perhaps"));
    CHECK_FALSE(typed_answer(asked("bill_pf"), "1.4"));
}

TEST_CASE("one question settles turned CTs of a generator, and the answer is kept with the readings") {
    Folder const folder;
    auto const kept = folder.file("kept.jsonl");
    auto const said = talk({.file = folder.file("one.jsonl", turned_round("solar") + "\n"), .save_file = kept}, "maybe\nyes\nskip\nskip\nskip\nskip\nskip\nskip\n");
    CAPTURE(said.out);
    CHECK(said.status == 0);
    CHECK(said.out.find("this cannot be the answer to the test") != std::string::npos);
    CHECK(said.out.find("all currents are reversed") != std::string::npos);
    std::ifstream in(kept);
    std::string line;
    REQUIRE(std::getline(in, line));
    auto const set = nlohmann::json::parse(line);
    CHECK(set.at("id") == "solar");
    REQUIRE(set.contains("tests"));
    CHECK(set.at("tests").at(0).at("value") == "yes");
    CHECK(read_line(line));
}

TEST_CASE("a lift on standby is read again while it runs, and the line keeps what it was sent with") {
    Folder const folder;
    std::string const lift =
        R"({"x_note":"east shaft","id":"lift","service":"3P4W","nominal":{"v_ln":230,"v_ll":400,"hz":50},"ct_planned":[100,5],"ct_output":"5A",)"
        R"("rotation":"abc","snapshots":[{"v":[231,229,232],"i":[1.6,1.5,1.7],"p":[300,290,310],"q":[150,140,160],"v_angle":[0,-120,120]}]})";
    std::string const running = R"({"v":[230,229,231],"i":[41.2,38.7,44.0],"p":[8700,8150,9390],"q":[3600,3300,4000],"v_angle":[0,-120,120]})";
    auto const said = talk({.file = folder.file("lift.jsonl", lift + "\n")}, "{\n{\"v\":[1]}\n" + running + "\nquit\n");
    CAPTURE(said.out);
    CHECK(said.status == 0);
    CHECK(said.out.find("Run the load") != std::string::npos);
    CHECK(said.out.find("this is not a snapshot") != std::string::npos);
    auto const last = said.out.rfind("{\"x_note\"");
    REQUIRE(last != std::string::npos);
    auto const kept = nlohmann::json::parse(said.out.substr(last, said.out.find('\n', last) - last));
    CHECK(kept.at("snapshots").size() == 2);
    CHECK(kept.at("x_note") == "east shaft");
    CHECK(said.out.rfind("Run the load") < said.out.rfind("wired as planned"));
}

TEST_CASE("quit ends the talk at once and still prints the readings") {
    Folder const folder;
    auto const said = talk({.file = folder.file("one.jsonl", turned_round("solar"))}, "quit\n");
    CHECK(said.status == 0);
    CHECK(said.out.find(R"("id":"solar")") != std::string::npos);
}

TEST_CASE("a talk that cannot begin says why") {
    Folder const folder;
    CHECK(talk({.file = "-"}, "").err.find("standard input") != std::string::npos);
    CHECK(talk({.file = folder.file("none.jsonl")}, "").status == 2);
    auto const two = folder.file("two.jsonl", turned_round("one") + "\n" + turned_round("two") + "\n");
    auto const which = talk({.file = two}, "");
    CHECK(which.status == 2);
    CHECK(which.err.find("--id") != std::string::npos);
    CHECK(talk({.file = two, .id = "two"}, "quit\n").status == 0);
    CHECK(talk({.file = two, .id = "three"}, "quit\n").err.find("one, two") != std::string::npos);
    CHECK(talk({.file = folder.file("bad.jsonl", "{")}, "").status == 2);
    auto const lost = talk({.file = folder.file("one.jsonl", turned_round("solar")), .save_file = "/no/such/folder/x"}, "quit\n");
    CHECK(lost.status == 2);
    CHECK(lost.out.find(R"("id":"solar")") != std::string::npos);  // nothing is lost
}
