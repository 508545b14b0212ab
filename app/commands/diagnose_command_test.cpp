#include "app/commands/diagnose_command.hpp"

#include <doctest/doctest.h>

#include <sstream>
#include <vector>

#include <nlohmann/json.hpp>

#include "app/commands/reading_lines.hpp"

using namespace phasewright;
using nlohmann::json;

namespace {
std::string sound(std::string const& id) {
    return R"({"id":")" + id +
           R"(","service":"3P4W","nominal":{"v_ln":230,"v_ll":400,"hz":50},"x_tag":"t","snapshots":[{"v":[231,229,232],)"
           R"("i":[41.2,38.7,44.0],"p":[8756,8153,9391],"q":[3730,3473,4001]}]})";
}
struct Answers {
    int status = 0;
    std::vector<json> lines;
};
Answers answers_to(std::string const& text) {
    std::istringstream in(text);
    std::ostringstream out;
    Answers answers{commands::diagnose_lines(in, out), {}};
    std::istringstream said(out.str());
    for (std::string line; std::getline(said, line);) answers.lines.push_back(json::parse(line));
    return answers;
}
}  // namespace

TEST_CASE("every line is answered in its order, a bad one beside the good ones") {
    auto const answers = answers_to(sound("one") + "\n\n{\n" + sound("two") + "\r\n" + sound("three"));
    CHECK(answers.status == commands::some_not_answered);
    REQUIRE(answers.lines.size() == 4);
    CHECK(answers.lines[0]["id"] == "one");
    CHECK(answers.lines[0]["x_tag"] == "t");
    CHECK(answers.lines[1]["line"] == 3);  // the empty line counts as a line
    CHECK(answers.lines[1]["id"].is_null());
    CHECK(answers.lines[1]["error"].contains("try"));
    CHECK(answers.lines[2]["id"] == "two");
    CHECK(answers.lines[3]["id"] == "three");
}

TEST_CASE("an answer has every field of the contract, in its order") {
    auto const answers = answers_to(sound("one"));
    CHECK(answers.status == commands::all_answered);
    REQUIRE(answers.lines.size() == 1);
    for (auto const* const field : {"id", "contract", "state", "classes", "left_out_probability",
                                    "true_power", "findings", "next_test", "given"})
        CHECK_MESSAGE(answers.lines[0].contains(field), field);
    CHECK(answers.lines[0]["given"].contains("unused"));
}

TEST_CASE("no lines at all are all answered") {
    CHECK(answers_to("").status == commands::all_answered);
    CHECK(answers_to("\n \n").lines.empty());
}

TEST_CASE("a line too long is refused without being kept, and the next one is answered") {
    auto const answers = answers_to(std::string(3'000'000, 'x') + "\n" + sound("two"));
    REQUIRE(answers.lines.size() == 2);
    CHECK(answers.lines[0]["error"]["found"] == "more than 1000000 bytes");
    CHECK(answers.lines[1]["id"] == "two");
}

TEST_CASE("a file that cannot be read is said once and ends with 2") {
    for (auto const* const path : {"/no/such/file.jsonl", "/"}) {
        std::istringstream in;
        std::ostringstream out;
        std::ostringstream err;
        CHECK(commands::diagnose_command(path, in, out, err) == commands::some_not_answered);
        CHECK(out.str().empty());
        CHECK(err.str().find(path) != std::string::npos);
    }
}

// A small generator of our own, so that every machine tries the same lines.
TEST_CASE("no damage to a line gets further than an error") {
    std::string const alphabet = "{}[]\",:0123456789.eE+-nulltruefase \\uNaN\xc3\xa9\x01";
    std::uint64_t seed = 20260520;
    auto const dice = [&](std::size_t below) {
        seed = seed * 6364136223846793005ULL + 1442695040888963407ULL;
        return static_cast<std::size_t>((seed >> 33U) % below);
    };
    std::size_t refused = 0;
    for (int round = 0; round < 4000; ++round) {
        auto line = sound("t");
        for (std::size_t changes = 1 + dice(4); changes > 0; --changes) {
            auto const at = dice(line.size());
            auto const how = dice(4);
            if (how == 0)
                line.erase(at, 1 + dice(12));
            else if (how == 1)
                line.insert(at, 1, alphabet[dice(alphabet.size())]);
            else if (how == 2)
                line[at] = alphabet[dice(alphabet.size())];
            else
                line.insert(at, line.substr(dice(line.size()), dice(40)));
        }
        auto const read = commands::read_line(line);
        if (read) continue;
        ++refused;
        auto const& fault = read.error().fault;
        CHECK_MESSAGE(!(fault.what.empty() || fault.allowed.empty() || fault.remedy.empty()), line);
    }
    CHECK(refused > 2000);
}

TEST_CASE("brackets nested to the limit of a line do not exhaust the stack") {
    auto const answers = answers_to(std::string(900'000, '[') + "\n" + R"({"x_deep":)" +
                                    std::string(400'000, '[') + std::string(400'000, ']') + "}");
    REQUIRE(answers.lines.size() == 2);
    CHECK(answers.lines[0].contains("error"));
    CHECK(answers.lines[1]["error"]["field"] == "x_deep");
}
