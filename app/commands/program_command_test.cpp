// Virtual meters over TCP, set as in one plan and programmed by another.
#include "app/commands/program_command.hpp"

#include <doctest/doctest.h>

#include <chrono>
#include <fstream>
#include <sstream>
#include <thread>

#include <nlohmann/json.hpp>
#include <unistd.h>

#include "app/commands/plan_file.hpp"
#include "app/commands/profile_check_command.hpp"
#include "bus/port/tcp_line.hpp"
#include "bus/twin/server.hpp"
#include "bus/twin/wired_file.hpp"

using namespace phasewright;
using namespace phasewright::commands;

namespace {

std::string profiles() { return std::string(PHASEWRIGHT_SOURCE_DIR) + "/profiles"; }

// A gateway with three meters; `ct` is the primary that the plan names.
std::string plan_text(int port, int ct) {
    auto const point = [&](std::string const& id, std::string const& profile, int unit,
                           std::string const& serial) {
        return "[[point]]\nid = \"" + id + "\"\npanel = \"main\"\nservice = \"3P4W\"\nct = { ratio = [" +
               std::to_string(ct) + ", 5], output = \"5A\" }\nmeter = { profile = \"" + profile +
               "\", serial = \"" + serial +
               "\" }\naddress = { gateway = \"yard\", unit = " + std::to_string(unit) + " }\n";
    };
    return std::string(
               "[site]\nname = \"Corner shop\"\nmeter_time_zone = \"+01:00\"\n[[panel]]\nid = \"main\"\nv_ln "
               "= 230.0\n"
               "v_ll = 400.0\nhz = 50.0\n[[gateway]]\nid = \"yard\"\nhost = \"127.0.0.1\"\nport = ") +
           std::to_string(port) + "\n" + point("shop", "sunspec", 1, "11") +
           point("cellar", "wexby-w2", 2, "12") + point("attic", "tarnfell-t3", 3, "13");
}

constexpr auto wired_text = R"(seed = 7
[supply.main]
v = [231, 229, 230]
[[point]]
id = "shop"
loads = [{ between = "an", amps = 20, pf = 0.9 }]
[[point]]
id = "cellar"
loads = [{ between = "an", amps = 22, pf = 0.9 },
         { between = "bn", amps = 31, pf = 0.9 }, { between = "cn", amps = 17, pf = 0.9 }]
[[point]]
id = "attic"
loads = [{ between = "an", amps = 12, pf = 0.95 },
         { between = "bn", amps = 21, pf = 0.9 }, { between = "cn", amps = 37, pf = 0.85 }]
)";

class Scene {
public:
    Scene() {
        auto const site = read_plan(plan_text(0, 100), "plan").value();
        auto const wired = twin::read_wired(wired_text, "wired", site).value();
        auto const source = [](std::string const& name) {
            return profile::read_profile_file(profiles() + "/" + name + ".toml");
        };
        auto const clock = [] {
            return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
        };
        server_ = std::make_unique<twin::Server>(twin::Server::open(site, wired, source, clock).value());
        port_ = server_->ports().at("attic");
        thread_ = std::thread([this] { server_->run(); });
        std::string name = (std::filesystem::temp_directory_path() / "phasewright-test-XXXXXX").string();
        REQUIRE(mkdtemp(name.data()) != nullptr);
        folder = name;
        std::ofstream(folder / "shop.toml") << plan_text(port_, 200);
    }
    Scene(Scene const&) = delete;
    Scene& operator=(Scene const&) = delete;
    ~Scene() {
        server_->stop();
        thread_.join();
        std::filesystem::remove_all(folder);
    }
    [[nodiscard]] ProgramOptions options() const {
        ProgramOptions options;
        options.plan_file = folder / "shop.toml";
        options.profiles_folder = profiles();
        options.json = true;
        return options;
    }
    int run(ProgramOptions const& options, std::string const& typed = {}) {
        std::istringstream in(typed);
        std::ostringstream out;
        std::ostringstream err;
        int const status = program_command(options, in, out, err);
        said = out.str();
        wrong = err.str();
        answers.clear();
        std::istringstream lines(said);
        for (std::string line; options.json && std::getline(lines, line);)
            answers.push_back(nlohmann::json::parse(line));
        return status;
    }
    // What the meter holds now for a setting, by a dry look.
    nlohmann::json in_meter(std::string const& point, std::string const& setting) {
        auto look = options();
        look.points = {point};
        run(look);
        REQUIRE(answers.size() == 1);
        for (auto const& row : answers[0]["settings"])
            if (row["setting"] == setting) return row["in_meter"];
        return nullptr;
    }
    [[nodiscard]] int port() const { return port_; }

    std::filesystem::path folder;
    std::string said, wrong;
    std::vector<nlohmann::json> answers;

private:
    std::unique_ptr<twin::Server> server_;
    int port_ = 0;
    std::thread thread_;
};

}  // namespace

TEST_CASE("a line is looked at meter by meter, and nothing is written or kept") {
    Scene scene;
    auto options = scene.options();
    options.lines = {"yard"};
    CHECK(scene.run(options) == 1);
    REQUIRE(scene.answers.size() == 3);
    CHECK(scene.answers[0]["failed"].get<std::string>().find("SunSpec") != std::string::npos);
    CHECK(scene.answers[1]["purpose"] == "compare");
    CHECK(scene.answers[2]["settings"][0]["setting"] == "ct_primary");
    CHECK(scene.answers[2]["settings"][0]["in_meter"] == 100.0);
    CHECK(scene.answers[2]["settings"][0]["planned"] == 200.0);
    CHECK(scene.answers[2]["settings"][0]["state"] == "would-write");
    CHECK_FALSE(std::filesystem::exists(scene.folder / "shop-settings.jsonl"));
    options.json = false;
    CHECK(scene.run(options) == 1);
    CHECK(scene.said.find("settings would be written; nothing was.") != std::string::npos);
    std::istringstream lines(scene.said);
    for (std::string line; std::getline(lines, line);) CHECK(line.size() <= 80);
    CHECK(scene.in_meter("attic", "ct_primary") == 100.0);
}

TEST_CASE("only the meter whose name is typed is written, and undo puts back what was found") {
    Scene scene;
    auto options = scene.options();
    options.points = {"cellar", "attic"};
    options.write = true;
    CHECK(scene.run(options, "no\nattic\n") == 1);
    REQUIRE(scene.answers.size() == 2);
    CHECK(scene.answers[0]["failed"] == "not confirmed; nothing was written");
    CHECK(scene.answers[1]["whole"] == true);
    CHECK(scene.answers[1]["steps"][0]["outcome"] == "written");
    CHECK(scene.in_meter("cellar", "ct_primary") == 100.0);
    CHECK(scene.in_meter("attic", "ct_primary") == 200.0);
    CHECK(scene.in_meter("attic", "time_zone") == 60.0);
    CHECK(std::abs(scene.in_meter("attic", "clock").get<double>()) < 5.0);
    auto undo = scene.options();
    undo.points = {"attic"};
    undo.undo = true;
    undo.confirmed = {"attic"};
    CHECK(scene.run(undo) == 0);
    CHECK(scene.in_meter("attic", "ct_primary") == 100.0);
    CHECK(scene.run(undo) == 1);  // there is nothing more to put back
}

TEST_CASE("a whole line in one go: a meter that cannot be written does not keep the others from theirs") {
    Scene scene;
    auto options = scene.options();
    options.all = true;
    options.write = true;
    options.confirmed = {"shop", "cellar", "attic"};
    CHECK(scene.run(options) == 1);  // the SunSpec meter
    REQUIRE(scene.answers.size() == 3);
    CHECK(scene.answers[1]["whole"] == true);
    CHECK(scene.answers[2]["whole"] == true);
    options.points = {"cellar", "attic"};
    options.all = false;
    CHECK(scene.run(options) == 0);  // now there is nothing to write
    CHECK(scene.answers[1]["steps"].empty());
}

TEST_CASE("a plan names what is to be programmed beside the CTs, and a mistake in it is refused") {
    auto const changed = [](std::string const& from, std::string const& to) {
        auto text = plan_text(502, 200);
        return text.replace(text.find(from), from.size(), to);
    };
    auto const site = read_plan(
        changed("serial = \"13\"", "serial = \"13\", vt = [11000, 110], demand_interval_min = 15"), "p");
    REQUIRE(site.has_value());
    CHECK(site->utc_offset_min == 60);
    CHECK(site->points[2].vt->factor() == 100.0);
    CHECK(site->points[2].demand_interval_min == 15.0);
    CHECK_FALSE(site->points[1].vt.has_value());
    CHECK(read_plan(changed("+01:00", "-03:30"), "p")->utc_offset_min == -210);
    for (auto const* const wrong : {"01:00", "+1:00", "+15:00", "+01:60", "+01.00"}) {
        auto const refused = read_plan(changed("+01:00", wrong), "p");
        REQUIRE_FALSE(refused.has_value());
        CHECK(refused.error().what == "this is no offset from UTC");
    }
    CHECK_FALSE(read_plan(changed("serial = \"13\"", "vt = [110, 11000]"), "p").has_value());
}

TEST_CASE("what is asked for must make sense") {
    Scene scene;
    auto options = scene.options();
    CHECK(scene.run(options) == 2);
    CHECK(scene.wrong.find("no meter is named") != std::string::npos);
    options.points = {"atic"};
    CHECK(scene.run(options) == 2);
    CHECK(scene.wrong.find("the plan has nothing of this name") != std::string::npos);
    options.points = {"attic"};
    options.write = options.undo = true;
    CHECK(scene.run(options) == 2);
    CHECK(scene.wrong.find("two things are asked for at once") != std::string::npos);
    options = scene.options();
    options.points = {"attic"};
    options.at = 0;
    CHECK(scene.run(options) == 2);
    CHECK(scene.wrong.find("nothing is ever broadcast") != std::string::npos);
    options.at = 77;  // nobody there
    options.write = true;
    options.confirmed = {"attic"};
    CHECK(scene.run(options) == 2);
    CHECK(scene.answers.at(0)["failed"].get<std::string>().find("unit 77") != std::string::npos);
}

TEST_CASE("a journal that cannot be understood keeps every meter from being written") {
    Scene scene;
    std::ofstream(scene.folder / "shop-settings.jsonl") << "{\"journal\":7}\n";
    auto options = scene.options();
    options.points = {"attic"};
    options.write = true;
    options.confirmed = {"attic"};
    CHECK(scene.run(options) == 2);
    CHECK(scene.wrong.find("shop-settings.jsonl:1: a line of the settings journal cannot be understood") !=
          std::string::npos);
    std::filesystem::remove(scene.folder / "shop-settings.jsonl");
    CHECK(scene.in_meter("attic", "ct_primary") == 100.0);
}

TEST_CASE("a profile is tried against a live meter, and the slip in a wrong one is named") {
    Scene scene;
    auto const line = port::tcp_line({.host = "127.0.0.1", .port = static_cast<std::uint16_t>(scene.port())});
    LiveCheck const check{.nominal = {.v_ln = 230.0, .v_ll = 400.0, .hz = 50.0}, .times = 2, .every_s = 0.3};
    auto good = profile::read_profile_file(profiles() + "/wexby-w2.toml");
    auto const nothing = live_findings(*line, 2, *good, check);
    REQUIRE(nothing.has_value());
    for (auto const& one : *nothing) {
        CAPTURE(one.what);
        CAPTURE(one.why);
        CAPTURE(one.remedy);
        CHECK(one.severity == profile::LintSeverity::mind);
    }
    for (auto& [measure, fields] : good->measurements)
        for (auto& field : fields) field.words = profile::Order::high_first;
    auto const found = live_findings(*line, 2, *good, check);
    REQUIRE(found.has_value());
    bool told = false;
    for (auto const& one : *found)
        told = told || (one.severity == profile::LintSeverity::mend &&
                        one.remedy.find("word_order") != std::string::npos);
    CHECK(told);
}
