#include "app/commands/plan_documents_command.hpp"

#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>

using namespace phasewright::commands;
namespace fs = std::filesystem;

namespace {

struct Folder {
    fs::path path = fs::temp_directory_path() / ("phasewright-documents-" + std::to_string(std::rand()));
    Folder() { fs::create_directories(path); }
    ~Folder() {
        std::error_code none;
        fs::remove_all(path, none);
    }
    Folder(Folder const&) = delete;
    Folder& operator=(Folder const&) = delete;
};

struct Ran {
    int status = 0;
    std::string out, err;
};
Ran run(PlanDocumentsOptions const& options) {
    std::ostringstream out, err;
    int const status = plan_documents_command(options, out, err);
    return {status, out.str(), err.str()};
}

std::string text_in(fs::path const& file) {
    std::ifstream in(file, std::ios::binary);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

std::map<std::string, std::string> files_in(fs::path const& folder) {
    std::map<std::string, std::string> files;
    for (auto const& entry : fs::directory_iterator(folder))
        files[entry.path().filename().string()] = text_in(entry.path());
    return files;
}

std::string const demo = std::string(PHASEWRIGHT_SOURCE_DIR) + "/demo/";

std::size_t count(std::string const& text, std::string const& part) {
    std::size_t number = 0;
    for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++number;
    return number;
}

}  // namespace

TEST_CASE(
    "both demo buildings give their papers, twice the same bytes, and no sheet is left out of the index") {
    for (auto const* const plan : {"tallowmere-yard.plan.toml", "cindervale-block.plan.toml"}) {
        Folder const folder;
        PlanDocumentsOptions options{
            .plan_file = demo + plan, .folder = folder.path / "one", .paper = "letter", .date = "2026-11-25"};
        auto const first = run(options);
        CHECK(first.err == "");
        REQUIRE(first.status == 0);
        auto const one = files_in(options.folder);
        CHECK(run(options).status == 0);  // over its own earlier run
        options.folder = folder.path / "two";
        REQUIRE(run(options).status == 0);
        auto const two = files_in(options.folder);
        CHECK(one == two);
        CHECK(files_in(folder.path / "one") == one);
        REQUIRE(one.contains("index.html"));
        CHECK(count(one.at("index.html"), "<img ") == one.size() - 1);
        for (auto const& [name, text] : one)
            if (name != "index.html") CHECK(text.ends_with("</svg>\n"));
        CHECK(!fs::exists(folder.path / "one.part"));
        CHECK(!fs::exists(folder.path / "one.old"));
    }
}

TEST_CASE(
    "terminals are called as the meter's own profile calls them, in the order of the service's inputs") {
    Folder const folder;
    PlanDocumentsOptions const options{.plan_file = demo + "tallowmere-yard.plan.toml",
                                       .folder = folder.path / "out",
                                       .points = {"kitchen"}};
    REQUIRE(run(options).status == 0);
    auto const schedule = text_in(options.folder / "kitchen-schedule.svg");
    for (auto const* const terminal :
         {"meter 1", "meter 13", "meter 4", "meter 6", "meter 7", "meter 9", "meter 10", "meter 12"})
        CHECK_MESSAGE(count(schedule, std::string(">") + terminal + "</text>") == 1, terminal);
    CHECK(!fs::exists(options.folder / "chiller-wiring.svg"));
}

TEST_CASE("a second element that the meter measures on its third input lands on the third pair") {
    Folder const folder;
    auto const plan = folder.path / "shop.plan.toml";
    std::ofstream(plan) << R"([site]
name = "Shop"
[[panel]]
id = "main"
v_ll = 400.0
hz = 50.0
[[point]]
id = "pump"
panel = "main"
service = "3P3W-2E"
ct = { ratio = [100, 5], output = "5A" }
meter = { profile = "tarnfell-t3" }
address = { host = "192.0.2.10" }
)";
    PlanDocumentsOptions const options{.plan_file = plan, .folder = folder.path / "out"};
    REQUIRE(run(options).status == 0);
    auto const schedule = text_in(options.folder / "pump-schedule.svg");
    CHECK(count(schedule, ">meter 4</text>") == 1);
    CHECK(count(schedule, ">meter 7</text>") == 0);
    CHECK(count(schedule, ">meter 10</text>") == 1);
}

TEST_CASE("what cannot be done leaves the folder as it was, and says why") {
    Folder const folder;
    PlanDocumentsOptions const good{.plan_file = demo + "cindervale-block.plan.toml",
                                    .folder = folder.path / "out"};
    REQUIRE(run(good).status == 0);
    auto const before = files_in(good.folder);

    auto broken = good;
    broken.plan_file = folder.path / "broken.plan.toml";
    std::ofstream(broken.plan_file) << "[site]\nname = \"Shop\"\n[[point]]\nid = \"p\"\n";
    auto refused = run(broken);
    CHECK(refused.status == 2);
    CHECK(refused.err.find("broken.plan.toml") != std::string::npos);

    auto unknown = good;
    unknown.points = {"shopp"};
    refused = run(unknown);
    CHECK(refused.status == 2);
    CHECK(refused.err.find("did you mean \"shop\"") != std::string::npos);

    for (auto const* const date : {"25.11.2026", "2026-13-01", "2026-00-10", "2026-1-1", "today"}) {
        auto undated = good;
        undated.date = date;
        CHECK(run(undated).status == 2);
    }
    auto paper = good;
    paper.paper = "a3";
    CHECK(run(paper).status == 2);
    CHECK(files_in(good.folder) == before);
}

TEST_CASE("a folder that holds something else than sheets is left alone") {
    Folder const folder;
    std::ofstream(folder.path / "notes.txt") << "mine";
    PlanDocumentsOptions const options{.plan_file = demo + "cindervale-block.plan.toml",
                                       .folder = folder.path};
    auto const refused = run(options);
    CHECK(refused.status == 2);
    CHECK(refused.err.find("notes.txt") != std::string::npos);
    CHECK(files_in(folder.path).size() == 1);
    CHECK(!fs::exists(folder.path.string() + ".part"));
}
