#include "app/commands/bus_round_command.hpp"

#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <sstream>

#include <nlohmann/json.hpp>
#include <unistd.h>

using namespace phasewright;
using namespace phasewright::commands;

namespace {

constexpr auto plan_text = R"([site]
name = "Two lines"
[[panel]]
id = "main"
v_ln = 230.0
v_ll = 400.0
hz = 50.0
[[serial_line]]
id = "riser"
name = "Riser"
bit_rate = 9600
answer_timeout_ms = 500
[[gateway]]
id = "yard"
host = "192.0.2.7"
[[point]]
id = "a"
panel = "main"
service = "3P4W"
ct = { ratio = [200, 5], output = "5A" }
meter = { profile = "sunspec" }
address = { serial_line = "riser", unit = 3 }
[[point]]
id = "b"
panel = "main"
service = "3P4W"
ct = { ratio = [200, 5], output = "5A" }
meter = { profile = "sunspec" }
address = { serial_line = "riser", unit = 4 }
[[point]]
id = "c"
panel = "main"
service = "3P4W"
ct = { ratio = [200, 5], output = "5A" }
meter = { profile = "sunspec" }
address = { gateway = "yard", unit = 1 }
)";

struct PlanOnDisk {
    std::filesystem::path file =
        std::filesystem::temp_directory_path() / ("bus-round-" + std::to_string(getpid()) + ".plan.toml");
    PlanOnDisk() { std::ofstream(file) << plan_text; }
    PlanOnDisk(PlanOnDisk const&) = delete;
    PlanOnDisk& operator=(PlanOnDisk const&) = delete;
    ~PlanOnDisk() { std::filesystem::remove(file); }
};

}  // namespace

TEST_CASE("each line of a plan is timed by itself, and a network is not timed") {
    PlanOnDisk const plan;
    std::ostringstream out, err;
    CHECK(bus_round_command({.plan_file = plan.file, .json = true}, out, err) == 0);
    std::istringstream lines(out.str());
    std::string line;
    REQUIRE(std::getline(lines, line));
    auto const riser = nlohmann::json::parse(line);
    CHECK(riser["format"] == "9600 8E1");
    REQUIRE(riser["meters"].size() == 2);
    // (8 + 5 + 248 + 7) characters of 11 bits at 9600 bit/s, twice (MODBUS over Serial Line V1.02,
    // clause 2.5.1).
    CHECK(riser["round_s"].get<double>() == doctest::Approx(2.0 * 268.0 * 11.0 / 9600.0));
    CHECK(riser["meters"][0]["silent_s"].get<double>() ==
          doctest::Approx(1.0 + (3.5 + 16.0) * 11.0 / 9600.0));
    REQUIRE(std::getline(lines, line));
    auto const yard = nlohmann::json::parse(line);
    CHECK(yard["format"].is_null());
    CHECK(yard["meters"][0]["reads"].size() == 1);
    CHECK_FALSE(yard.contains("round_s"));
    CHECK(err.str().empty());
}

TEST_CASE("a silent meter, a stated delay and a format behind the gateways change the round") {
    PlanOnDisk const plan;
    std::ostringstream out, err;
    CHECK(bus_round_command({.plan_file = plan.file,
                             .silent = {"b"},
                             .answer_delay_ms = 50.0,
                             .behind_gateways = "19200-8N1",
                             .json = true},
                            out, err) == 0);
    std::istringstream lines(out.str());
    std::string line;
    REQUIRE(std::getline(lines, line));
    auto const riser = nlohmann::json::parse(line);
    CHECK(riser["round_s"].get<double>() ==
          doctest::Approx(264.5 * 11.0 / 9600.0 + 0.050 + 1.0 + 19.5 * 11.0 / 9600.0));
    CHECK(riser["meters"][1]["silent"] == true);
    REQUIRE(std::getline(lines, line));
    CHECK(nlohmann::json::parse(line)["round_s"].get<double>() ==
          doctest::Approx(264.5 * 10.0 / 19200.0 + 0.050));
}

TEST_CASE("the lines for people say what fits") {
    PlanOnDisk const plan;
    std::ostringstream out, err;
    CHECK(bus_round_command({.plan_file = plan.file, .interval_s = 0.5}, out, err) == 0);
    CHECK(out.str().find("Riser: 9600 8E1, 2 meters, 2 reads\n") != std::string::npos);
    CHECK(out.str().find("At 9600 this line needs 0.61 s a round; 19200: 0.31 s; "
                         "a 0.5 s interval fits at 19200 and not at 9600.") != std::string::npos);
    CHECK(out.str().find("yard: 1 meter, 1 read of 124 registers; over a network") != std::string::npos);
}

TEST_CASE("a plan, a point or a format that is not there is refused") {
    PlanOnDisk const plan;
    std::ostringstream out, err;
    CHECK(bus_round_command({.plan_file = "/nonexistent/plan.toml"}, out, err) == 2);
    CHECK(bus_round_command({.plan_file = plan.file, .silent = {"z"}}, out, err) == 2);
    CHECK(bus_round_command({.plan_file = plan.file, .behind_gateways = "fast"}, out, err) == 2);
    CHECK(out.str().empty());
}

TEST_CASE("a serial format is read as it is written") {
    CHECK(serial_format_of("19200 8E1") == plan::SerialFormat{19200, plan::Parity::even, 1});
    CHECK(serial_format_of("9600-8N2") == plan::SerialFormat{9600, plan::Parity::none, 2});
    for (auto const* const wrong :
         {"", "9600", "9600 7E1", "9600 8E3", "9600 8M1", "x 8E1", "9600 8E1 ", "1 8E1"})
        CHECK_FALSE(serial_format_of(wrong));
}
