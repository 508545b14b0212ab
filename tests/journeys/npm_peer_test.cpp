// Both roles over TCP against modbus-serial, an npm package that shares nothing with this project.
#include <doctest/doctest.h>

#include <thread>

#include "bus/port/tcp_line.hpp"
#include "bus/twin/server.hpp"
#include "bus/twin/wired_file.hpp"
#include "tests/journeys/examples_in_tests.hpp"
#include "tests/journeys/one_meter_in_tests.hpp"
#include "tests/journeys/process_in_tests.hpp"

using namespace phasewright;
using namespace phasewright::journeys;

namespace {
std::vector<std::string> node(std::string const& script, std::vector<std::string> const& more) {
    std::vector<std::string> words{"env", "NODE_PATH=" PHASEWRIGHT_NODE_MODULES, "node",
                                   PHASEWRIGHT_SOURCE_DIR "/tests/peers/" + script};
    words.insert(words.end(), more.begin(), more.end());
    return words;
}
}  // namespace

TEST_CASE("a gateway of two units served by modbus-serial is read and written") {
    Process const server(node("modbus_serial_server.js", {"tcp"}));
    auto const number = server.line();
    REQUIRE_MESSAGE(!number.empty(), "modbus-serial did not start: ./test installs it, into build/peers");
    auto const line =
        port::tcp_line({.port = static_cast<std::uint16_t>(std::stoi(number)), .answer_timeout_ms = 10000});
    ask_for_the_examples(*line, 1);
    ask_for_the_examples(*line, 2);
    check_identity(*line, 1);
    // No unit 7 there: its gateway says so.
    CHECK(port::read_registers(*line, 7, holding, 0, 1).error().exception == 0x0B);
}

TEST_CASE("modbus-serial reads a virtual meter") {
    OneMeter const meter;
    Process asking(node("modbus_serial_client.js", {"tcp", std::to_string(meter.port()), "3:40000:2", "3:40070:2",
                                                    "3:7:1", "9:40000:2", "3:identity"}));
    CHECK(lines_of(asking.rest()) ==
          std::vector<std::string>{"registers 21365 28243", "registers 203 105", "exception 2", "exception 11",
                                   "identity phasewright|virtual meter|1"});
}
