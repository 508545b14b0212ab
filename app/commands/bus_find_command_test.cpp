#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <sstream>

#include <nlohmann/json.hpp>
#include <unistd.h>

#include "app/commands/bus_find_command.hpp"
#include "app/commands/bus_find_words.hpp"

namespace phasewright::commands {

namespace {
plan::MeteringPoint point(std::string id, int unit, std::string serial) {
    plan::MeteringPoint made;
    made.id = std::move(id);
    made.name = "Point " + made.id;
    made.address.unit = unit;
    made.meter_serial = std::move(serial);
    return made;
}

FindTarget target() {
    FindTarget made{.line = "pair", .device = "/dev/none", .format = plan::SerialFormat{}};
    made.planned = {point("a", 1, "11"), point("b", 2, ""), point("c", 3, ""), point("d", 4, "44")};
    return made;
}

finder::Found found() {
    finder::Found made{.place = "/dev/none", .line = "pair"};
    finder::FoundDevice first{.unit = 1, .format = plan::SerialFormat{}, .answered_s = 0.02, .asked_who = true};
    first.identity = {.maker = "Invented", .model = "Invented Three", .serial = "12", .sunspec = true, .sunspec_meter_model = 203};
    finder::FoundDevice second{.unit = 2, .format = plan::SerialFormat{9600, plan::Parity::none, 1}, .asked_who = true};
    finder::FoundDevice stranger{.unit = 9, .format = plan::SerialFormat{}, .asked_who = true};
    stranger.identity.model = "\x1b[31mred";
    made.devices = {first, second, stranger};
    made.doubtful = {{.unit = 4, .format = plan::SerialFormat{}}};
    made.asked = 247;
    return made;
}
}  // namespace

TEST_CASE("a search is laid against the plan: missing, strangers, another format, another serial number") {
    auto const text = found_lines(found(), target(), 80);
    CHECK(text.find("pair, /dev/none: 3 devices found, 247 questions") == 0);
    CHECK(text.find("Point a: Invented Three, serial 12") != std::string::npos);
    CHECK(text.find("not planned") != std::string::npos);
    CHECK(text.find("Point c (unit 3) is planned here and did not answer") != std::string::npos);
    CHECK(text.find("Point d (unit 4) is planned here and gave no whole answer") != std::string::npos);
    CHECK(text.find("Point b answers at 9600 8N1, the plan says 19200 8E1") != std::string::npos);
    CHECK(text.find("serial number 12, the plan says 11") != std::string::npos);
    CHECK(text.find('\x1b') == std::string::npos);  // what a device says steers no terminal
}

TEST_CASE("the same as JSON") {
    auto const line = nlohmann::json::parse(found_json(found(), target()));
    CHECK(line["devices"][0]["point"] == "a");
    CHECK(line["devices"][2]["point"].is_null());
    CHECK(line["missing"].size() == 2);
    CHECK(line["doubtful"][0]["unit"] == 4);
    CHECK(line["differences"].size() == 2);
    CHECK(line["fault"].is_null());
}

TEST_CASE("a line in use is told with what was heard, and its planned meters are not called silent") {
    auto in_use = finder::Found{.place = "/dev/none"};
    in_use.fault = codec::Fault{.kind = codec::FaultKind::line_in_use, .detail = "in 10 s 6 whole frames were heard"};
    auto const text = found_lines(in_use, target(), 80);
    CHECK(text.find("another master is at work") != std::string::npos);
    CHECK(text.find("whole frames") != std::string::npos);
    CHECK(text.find("did not answer") == std::string::npos);
}

TEST_CASE("what is searched is what was named, and nothing else") {
    BusFindOptions options;
    CHECK_FALSE(find_targets(options));  // nothing named
    options.serial = {"/dev/ttyUSB0"};
    options.gateways = {"192.0.2.7:1502"};
    options.hosts = {"192.0.2.10-12"};
    auto const targets = find_targets(options);
    REQUIRE(targets);
    REQUIRE(targets->size() == 3);
    CHECK((*targets)[0].device == "/dev/ttyUSB0");
    CHECK((*targets)[1].places[0].port == 1502);
    CHECK((*targets)[2].places.size() == 3);
    options.lines = {"pair"};
    CHECK_FALSE(find_targets(options));  // no plan has it
}

TEST_CASE("a wrong word on the command line searches nothing") {
    auto const refused = [](auto const& with) {
        BusFindOptions options;
        options.serial = {"/dev/none"};
        with(options);
        std::ostringstream out, err;
        CHECK(bus_find_command(options, out, err) == 2);
        CHECK(out.str().empty());
        return err.str();
    };
    CHECK(refused([](auto& options) { options.units = "0-5"; }).find("--units") != std::string::npos);
    CHECK(refused([](auto& options) { options.units = "9-5"; }).find("--units") != std::string::npos);
    CHECK(refused([](auto& options) { options.format = "19200 9E1"; }).find("--format") != std::string::npos);
    CHECK(refused([](auto& options) { options.hosts = {"192.0.2.9-1"}; }).find("--host") != std::string::npos);
}

TEST_CASE("a port that does not exist is a finding of its line, and the status says that not all was searched") {
    BusFindOptions options;
    options.serial = {"/dev/no-such-port"};
    options.json = true;
    std::ostringstream out, err;
    CHECK(bus_find_command(options, out, err) == 2);
    auto const line = nlohmann::json::parse(out.str());
    CHECK(line["place"] == "/dev/no-such-port");
    CHECK(line["fault"]["says"].get<std::string>().find("/dev/no-such-port") != std::string::npos);
}

}  // namespace phasewright::commands
