// The command from the outside: what it returns, what it writes, what it says. No meter answers here; the
// journey over the virtual meters of a whole building is tests/journeys.
#include "app/commands/prove_command.hpp"

#include <doctest/doctest.h>

#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <iostream>
#include <sstream>

#include <fcntl.h>
#include <nlohmann/json.hpp>
#include <unistd.h>

using namespace phasewright::commands;

namespace {

constexpr auto silent_plan = R"([site]
name = "Corner <shop>"

[[panel]]
id = "main"
v_ln = 230.0
v_ll = 400.0
hz = 50.0

[[point]]
id = "tenant-3"
name = "Tenant 3"
panel = "main"
service = "3P4W"
ct = { ratio = [100, 5], output = "5A" }
meter = { profile = "no-such-profile" }
address = { host = "127.0.0.1", port = 9, unit = 1 }
)";

std::string text_of(std::filesystem::path const& file) {
    std::ifstream in(file);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

struct Folder {
    std::filesystem::path path;
    Folder() {
        std::string name = (std::filesystem::temp_directory_path() / "phasewright-test-XXXXXX").string();
        REQUIRE(mkdtemp(name.data()) != nullptr);
        path = name;
    }
    Folder(Folder const&) = delete;
    Folder& operator=(Folder const&) = delete;
    ~Folder() { std::filesystem::remove_all(path); }
    [[nodiscard]] std::filesystem::path with(std::string const& name, std::string const& text) const {
        std::ofstream(path / name) << text;
        return path / name;
    }
};

struct Run {
    int status = -1;
    std::string out, err;
};

Run run(ProveOptions const& options, Folder const& folder) {
    auto const out_file = folder.path / "out", err_file = folder.path / "err";
    std::fflush(nullptr);
    std::cout.flush();
    int const out = dup(1), err = dup(2);
    REQUIRE(std::freopen(out_file.c_str(), "w", stdout) != nullptr);
    REQUIRE(std::freopen(err_file.c_str(), "w", stderr) != nullptr);
    Run result;
    result.status = run_prove(options);
    std::fflush(nullptr);
    dup2(out, 1);
    dup2(err, 2);
    close(out);
    close(err);
    result.out = text_of(out_file);
    result.err = text_of(err_file);
    return result;
}

}  // namespace

TEST_CASE("a plan that is not there, or is no plan, is refused with 2 and its name") {
    Folder const folder;
    auto result = run({.plan_file = folder.path / "nothing.toml"}, folder);
    CHECK(result.status == 2);
    CHECK(result.err.find("nothing.toml") != std::string::npos);
    result = run({.plan_file = folder.with("broken.toml", "[site]\nnmae = 3\n")}, folder);
    CHECK(result.status == 2);
    CHECK(result.err.find("broken.toml") != std::string::npos);
    CHECK(result.out.empty());
}

TEST_CASE("a job is done even when no meter could be read, and the report says so") {
    Folder const folder;
    auto const report = folder.path / "report.html";
    auto const result = run({.plan_file = folder.with("shop.plan.toml", silent_plan),
                             .report_file = report,
                             .profiles_folder = folder.path,
                             .program = "phasewright 9.9.9"},
                            folder);
    CHECK(result.status == 0);
    CHECK(result.out.find("A reading is no proof of absence of voltage.") != std::string::npos);
    CHECK_MESSAGE(result.out.find("Tenant 3  not yet   No reading:") != std::string::npos, result.out);
    CHECK(result.out.find("1 point: 1 not yet.") != std::string::npos);
    CHECK(result.out.find(report.string()) != std::string::npos);
    CHECK(result.err == "reading 1 of 1: Tenant 3\n");
    auto const html = text_of(report);
    CHECK(html.find("Corner &lt;shop&gt;") != std::string::npos);
    CHECK(html.find("No reading: ") != std::string::npos);
    CHECK(html.find("phasewright 9.9.9") != std::string::npos);
    CHECK_FALSE(std::filesystem::exists(report.string() + ".part"));
}

TEST_CASE("with --json every line of the standard output is JSON and says what the lines for people say") {
    Folder const folder;
    auto const result = run({.plan_file = folder.with("shop.plan.toml", silent_plan),
                             .report_file = folder.path / "report.html",
                             .profiles_folder = folder.path,
                             .json = true},
                            folder);
    CHECK(result.status == 0);
    auto const line = nlohmann::json::parse(result.out, nullptr, false);
    REQUIRE_FALSE(line.is_discarded());
    CHECK(line["id"] == "tenant-3");
    CHECK(line["x_state"] == "not yet");
    CHECK(line["x_says"].get<std::string>().starts_with("No reading: "));
    CHECK(line.contains("error"));
    CHECK(result.err.find("1 point: 1 not yet.") != std::string::npos);
}

TEST_CASE("a report that cannot be written makes the job undone") {
    Folder const folder;
    auto const result = run({.plan_file = folder.with("shop.plan.toml", silent_plan),
                             .report_file = folder.path / "no" / "such" / "folder.html",
                             .profiles_folder = folder.path},
                            folder);
    CHECK(result.status == 2);
    CHECK(result.err.find("the report cannot be written") != std::string::npos);
}

TEST_CASE("a plan whose ports are not known yet cannot be read without virtual meters") {
    Folder const folder;
    std::string plan = silent_plan;
    plan.replace(plan.find("port = 9"), 8, "port = 0");
    auto const result = run({.plan_file = folder.with("shop.plan.toml", plan)}, folder);
    CHECK(result.status == 2);
    CHECK(result.err.find("tenant-3") != std::string::npos);
}
