#include "app/commands/bus_poll_command.hpp"

#include <doctest/doctest.h>

#include <chrono>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <thread>

#include <nlohmann/json.hpp>
#include <unistd.h>

#include "app/commands/plan_file.hpp"
#include "bus/twin/server.hpp"
#include "bus/twin/wired_file.hpp"

using namespace phasewright;
using namespace phasewright::commands;

namespace {

// A gateway with two meters, and one meter whose host nobody listens on.
std::string plan_text(int port, int dead_port) {
    auto const point = [](std::string const& id, std::string const& profile, std::string const& address) {
        return "[[point]]\nid = \"" + id +
               "\"\npanel = \"main\"\nservice = \"3P4W\"\nusual_a = 20\nbreaker_a = 63\n"
               "ct = { ratio = [200, 5], output = \"5A\" }\nmeter = { profile = \"" +
               profile + "\" }\naddress = " + address + "\n";
    };
    auto text = std::string(
                    "[site]\nname = \"Corner shop\"\n[[panel]]\nid = \"main\"\nv_ln = 230.0\nv_ll = "
                    "400.0\nhz = 50.0\n"
                    "[[gateway]]\nid = \"yard\"\nhost = \"127.0.0.1\"\nport = ") +
                std::to_string(port) + "\n" + point("shop", "sunspec", "{ gateway = \"yard\", unit = 1 }") +
                point("cellar", "wexby-w2", "{ gateway = \"yard\", unit = 2 }");
    if (dead_port != 0)
        text +=
            point("gone", "sunspec", "{ host = \"127.0.0.1\", port = " + std::to_string(dead_port) + " }");
    return text;
}

constexpr auto wired_text = R"(seed = 7
[supply.main]
v = [231, 229, 230]
[[point]]
id = "shop"
loads = [{ between = "an", amps = 20, pf = 0.9 }]
[[point]]
id = "cellar"
loads = [{ between = "bn", amps = 10, pf = 0.9 }]
)";

// The two meters of the gateway, served by the virtual meters.
class Twins {
public:
    Twins() {
        auto const site = read_plan(plan_text(0, 0), "plan").value();
        auto const wired = twin::read_wired(wired_text, "wired", site).value();
        auto const profiles = [](std::string const& name) {
            return profile::read_profile_file(std::string(PHASEWRIGHT_SOURCE_DIR) + "/profiles/" + name +
                                              ".toml");
        };
        server_ = std::make_unique<twin::Server>(
            twin::Server::open(site, wired, profiles, [] {
                return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch())
                    .count();
            }).value());
        port_ = server_->ports().at("shop");
        thread_ = std::thread([this] { server_->run(); });
    }
    Twins(Twins const&) = delete;
    Twins& operator=(Twins const&) = delete;
    ~Twins() {
        server_->stop();
        thread_.join();
    }
    [[nodiscard]] int port() const { return port_; }

private:
    std::unique_ptr<twin::Server> server_;
    int port_ = 0;
    std::thread thread_;
};

struct PlanOnDisk {
    std::filesystem::path file =
        std::filesystem::temp_directory_path() / ("bus-poll-" + std::to_string(getpid()) + ".plan.toml");
    explicit PlanOnDisk(std::string const& text) { std::ofstream(file) << text; }
    PlanOnDisk(PlanOnDisk const&) = delete;
    PlanOnDisk& operator=(PlanOnDisk const&) = delete;
    ~PlanOnDisk() { std::filesystem::remove(file); }
};

std::vector<nlohmann::json> objects(std::string const& text) {
    std::vector<nlohmann::json> found;
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) found.push_back(nlohmann::json::parse(line));
    return found;
}

}  // namespace

TEST_CASE("every meter of a plan is polled, one object an event, and a host that is not there is told") {
    Twins const twins;
    // A port that was open a moment ago and is not any more.
    int dead_port = 0;
    {
        dead_port = Twins().port();
    }
    PlanOnDisk const plan(plan_text(twins.port(), dead_port));
    std::ostringstream out, err;
    int shop = 0, cellar = 0, lost = 0;
    auto const enough = [&] {
        shop = cellar = lost = 0;
        for (auto const& event : objects(out.str())) {
            if (event["event"] == "note") lost += event["kind"] == "line_lost" ? 1 : 0;
            if (event["event"] != "reading") continue;
            shop += event["point"] == "shop" ? 1 : 0;
            cellar += event["point"] == "cellar" ? 1 : 0;
        }
        return shop >= 2 && cellar >= 2 && lost >= 1;
    };
    CHECK(bus_poll_command({.plan_file = plan.file, .interval_s = 0.1, .for_s = 60.0, .json = true}, enough,
                           out, err) == 0);
    CHECK(enough());
    CHECK(lost == 1);
    for (auto const& event : objects(out.str())) {
        if (event["event"] != "reading") continue;
        CHECK(event["line"] == "yard");
        CHECK(event["time"].get<std::string>().ends_with("Z"));
        REQUIRE(event["snapshot"]["v"].size() == 3);
        CHECK(event["snapshot"]["v"][0].get<double>() == doctest::Approx(230.0).epsilon(0.1));
    }
    CHECK(err.str().find(" of 2 of 3 meters; line_lost 1") != std::string::npos);
}

TEST_CASE("the lines for people say what was read, and how much at the end") {
    Twins const twins;
    PlanOnDisk const plan(plan_text(twins.port(), 0));
    std::ostringstream out, err;
    auto const enough = [&] { return out.str().find("cellar") != std::string::npos; };
    CHECK(bus_poll_command({.plan_file = plan.file, .interval_s = 60.0, .for_s = 60.0}, enough, out, err) ==
          0);
    CHECK(out.str().find("Z  shop              V 2") != std::string::npos);
    CHECK(out.str().find("2 readings of 2 of 2 meters, nothing odd\n") != std::string::npos);
}

TEST_CASE("a plan whose ports are not known cannot be polled") {
    PlanOnDisk const plan(plan_text(0, 0));
    std::ostringstream out, err;
    CHECK(bus_poll_command({.plan_file = plan.file}, [] { return true; }, out, err) == 2);
    CHECK(err.str().find("the port of this point's meter is not known") != std::string::npos);
    CHECK(out.str().empty());
}

TEST_CASE("a note is one line for people and one object for programs") {
    poller::Note const note{poller::NoteKind::line_lost, "riser", {},
                            "2026-05-20T08:00:05.250Z",  81.25,   "it is gone\x1b[2J"};
    CHECK(words_of(note) == "08:00:05.250Z  riser             line_lost: it is gone[2J");
    auto const object = nlohmann::json::parse(json_of(note));
    CHECK(object["kind"] == "line_lost");
    CHECK(object["at_s"] == 81.25);
    CHECK_FALSE(object.contains("point"));
}

TEST_CASE("a reading carries its energy registers by name") {
    poller::Reading reading{
        .line = "riser", .point = "a", .time = "2026-05-20T08:00:05.250Z", .at_s = 1.0, .took_s = 0.5};
    reading.snapshot.v = {230.0, std::nullopt, 231.0};
    reading.snapshot.p = {1000.0, 1000.0, -500.0};
    reading.counters = {{"import", 123456.0, {}},
                        {"export", std::nullopt, {}},
                        {"reactive", 5.0, {}, "varh"},
                        {"import 2", 5.0, {}, "Wh", 2}};
    CHECK(words_of(reading) ==
          "08:00:05.250Z  a                 V 230.0 - 231.0  kW 1.500  import 123.456 kWh");
    auto const object = nlohmann::json::parse(json_of(reading));
    CHECK(object["counters"]["import"] == 123456.0);
    CHECK(object["counters"]["export"].is_null());
    CHECK(object["counters"]["reactive"] == 5.0);
    CHECK(object["snapshot"]["v"][1].is_null());
}
