// The design of whole plans from files, held against the checks; and what the command writes and does not
// write.
#include "app/commands/plan_design_command.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>

#include <nlohmann/json.hpp>
#include <unistd.h>

#include "app/commands/catalogue_file.hpp"
#include "app/commands/plan_check_command.hpp"
#include "app/commands/plan_file.hpp"
#include "app/commands/plan_writer.hpp"
#include "app/commands/whole_file.hpp"

using namespace phasewright;
namespace fs = std::filesystem;

namespace {
struct Folder {
    fs::path path =
        fs::temp_directory_path() /
        ("phasewright-design-" + std::to_string(std::hash<std::string>{}(PHASEWRIGHT_SOURCE_DIR) % 1000) +
         "-" + std::to_string(::getpid()));
    Folder() { fs::create_directories(path); }
    Folder(Folder const&) = delete;
    Folder& operator=(Folder const&) = delete;
    ~Folder() { fs::remove_all(path); }
};
fs::path demo(std::string const& name) {
    return fs::path{PHASEWRIGHT_SOURCE_DIR} / "demo" / (name + ".plan.toml");
}

// The demo's plan with everything that design chooses taken out of its points.
plan::Site emptied(std::string const& name) {
    auto site = commands::read_draft(*commands::text_of(demo(name), "the plan"), demo(name).string()).value();
    for (auto& point : site.points) {
        point.to_choose = {.ct = true, .meter = true, .address = true};
        point.ct = {};
        point.meter_profile.clear();
        point.meter_serial.clear();
        point.address = {};
        point.lead.reset();
        point.tap.reset();
        point.supply.reset();
        point.elements.clear();  // one point is connected wrongly on purpose
    }
    for (auto& line : site.serial_lines) line.terminators.reset();
    for (auto& panel : site.panels)  // one box has its conduit from above on purpose
        if (panel.enclosure && panel.enclosure->stands == plan::Whereabouts::outdoor)
            panel.enclosure->entries = {plan::CableEntry::bottom};
    return site;
}
int run(commands::PlanDesignOptions const& options, std::string& out) {
    std::ostringstream text;
    std::ostringstream err;
    int const status = commands::plan_design_command(options, text, err);
    out = text.str() + err.str();
    return status;
}
void write(fs::path const& file, std::string const& text) { std::ofstream(file, std::ios::binary) << text; }
bool contains(std::string const& text, std::string const& part) {
    return text.find(part) != std::string::npos;
}

// Lines of `plan check` that begin with stop or mend.
std::string grave_findings(fs::path const& plan_file) {
    std::ostringstream out;
    std::ostringstream err;
    int const status = commands::plan_check_command({.plan_file = plan_file.string()}, out, err);
    CHECK(status != 2);
    std::istringstream lines(out.str());
    std::string grave;
    for (std::string line; std::getline(lines, line);)
        if (line.starts_with("stop") || line.starts_with("mend")) grave += line + "\n";
    return grave;
}
}  // namespace

TEST_CASE(
    "the European demo with nothing chosen becomes a plan of which the checks have nothing to stop and "
    "nothing to mend") {
    Folder const folder;
    write(folder.path / "draft.toml", commands::write_plan(emptied("tallowmere-yard")));
    std::string out;
    REQUIRE(run({.plan_file = (folder.path / "draft.toml").string(), .out_file = folder.path / "done.toml"},
                out) == 0);
    CHECK(contains(out, ", 0 open, "));
    CHECK(grave_findings(folder.path / "done.toml") == "");
    // It is a whole plan now, for commands that read meters too.
    auto const whole =
        commands::read_plan(*commands::text_of(folder.path / "done.toml", "the plan"), "done.toml");
    CHECK(whole.has_value());
}

TEST_CASE(
    "the North American demo too; one tap is asked about, since no thin wire carries a tenth of 400 A") {
    Folder const folder;
    write(folder.path / "draft.toml", commands::write_plan(emptied("cindervale-block")));
    std::string out;
    REQUIRE(run({.plan_file = (folder.path / "draft.toml").string(), .out_file = folder.path / "done.toml"},
                out) == 0);
    CHECK(contains(out, ", 1 open, "));
    CHECK(contains(out, "open tap of service"));
    CHECK(contains(out, "less than a tenth of the 400 A in front"));
    CHECK(grave_findings(folder.path / "done.toml") == "");
}

TEST_CASE("a completed plan is designed to the same plan, and to no proposal but offers") {
    Folder const folder;
    write(folder.path / "draft.toml", commands::write_plan(emptied("tallowmere-yard")));
    std::string out;
    REQUIRE(run({.plan_file = (folder.path / "draft.toml").string(), .out_file = folder.path / "done.toml"},
                out) == 0);
    REQUIRE(run({.plan_file = (folder.path / "done.toml").string(),
                 .out_file = folder.path / "again.toml",
                 .json = true},
                out) == 0);
    CHECK(*commands::text_of(folder.path / "done.toml", "it") ==
          *commands::text_of(folder.path / "again.toml", "it"));
    auto const last = out.substr(out.rfind('\n', out.size() - 2) + 1);
    CHECK(nlohmann::json::parse(last)["taken"] == 0);
}

TEST_CASE("the plan itself is not written over unless that is asked for, and without -o nothing is written") {
    Folder const folder;
    auto const draft = folder.path / "draft.toml";
    auto const text = commands::write_plan(emptied("cindervale-block"));
    write(draft, text);
    std::string out;
    CHECK(run({.plan_file = draft.string()}, out) == 0);
    CHECK(*commands::text_of(draft, "it") == text);
    CHECK(run({.plan_file = draft.string(), .out_file = folder.path / "." / "draft.toml"}, out) == 2);
    CHECK(contains(out, "would be written over the plan itself"));
    CHECK(*commands::text_of(draft, "it") == text);
    CHECK(run({.plan_file = draft.string(), .out_file = folder.path / "x.toml", .in_place = true}, out) == 2);
    CHECK(run({.plan_file = draft.string(), .in_place = true}, out) == 0);
    CHECK_FALSE(contains(*commands::text_of(draft, "it"), "meter = \"to-choose\""));
}

TEST_CASE("every proposal is one JSON line with its reasons, and the last line counts them") {
    Folder const folder;
    write(folder.path / "draft.toml", commands::write_plan(emptied("cindervale-block")));
    std::string out;
    REQUIRE(run({.plan_file = (folder.path / "draft.toml").string(), .json = true}, out) == 0);
    std::istringstream lines(out);
    std::size_t count = 0;
    nlohmann::json last;
    for (std::string line; std::getline(lines, line); ++count) {
        last = nlohmann::json::parse(line);
        if (last.contains("part") && last["standing"] == "taken") CHECK_FALSE(last["reasons"].empty());
    }
    CHECK(last["taken"].get<std::size_t>() + last["offered"].get<std::size_t>() +
              last["open"].get<std::size_t>() + last["kept"].get<std::size_t>() ==
          count - 1);
    CHECK(last["written"].is_null());
}

TEST_CASE("what cannot be read is said, and ends with 2") {
    Folder const folder;
    write(folder.path / "draft.toml", commands::write_plan(emptied("cindervale-block")));
    write(folder.path / "bad.toml", "[[ct]]\n");
    write(folder.path / "list.csv", "model,primary_a,secondary,output\nhoop-100-5,100,5,5A\n");
    std::string out;
    CHECK(run({.plan_file = (folder.path / "none.toml").string()}, out) == 2);
    auto const draft = (folder.path / "draft.toml").string();
    CHECK(run({.plan_file = draft, .catalogue_files = {folder.path / "bad.toml"}}, out) == 2);
    CHECK(contains(out, "bad.toml"));
    CHECK(run({.plan_file = draft,
               .catalogue_files = {commands::shipped_catalogue(), folder.path / "list.csv"}},
              out) == 2);
    CHECK(contains(out, "the model stands in another catalogue too"));
    CHECK(run({.plan_file = draft, .profiles_folder = folder.path / "nowhere"}, out) == 2);
    CHECK(contains(out, "the folder of profiles cannot be read"));
}
