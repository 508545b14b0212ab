// Both roles on a serial line that takes its time (19200 8N2; a pseudo-terminal has no parity), against programs that
// share nothing with this project: pymodbus, modbus-serial and mbpoll.
#include <doctest/doctest.h>

#include "bus/port/paced_bridge_in_tests.hpp"
#include "bus/port/rtu_line.hpp"
#include "tests/journeys/examples_in_tests.hpp"
#include "tests/journeys/process_in_tests.hpp"

using namespace phasewright;
using namespace phasewright::journeys;

namespace {
plan::SerialFormat const format{.bit_rate = 19200, .parity = plan::Parity::none, .stop_bits = 2};
std::string const peers = PHASEWRIGHT_SOURCE_DIR "/tests/peers/";

std::vector<std::string> python(std::string const& script) { return {"/usr/bin/python3", peers + script}; }
std::vector<std::string> node(std::string const& script) {
    return {"env", "NODE_PATH=" PHASEWRIGHT_NODE_MODULES, "node", peers + script};
}
std::vector<std::string> with(std::vector<std::string> words, std::vector<std::string> const& more) {
    words.insert(words.end(), more.begin(), more.end());
    return words;
}

std::unique_ptr<port::Line> line_to(port::PacedBridge const& bridge, int answer_timeout_ms = 10000) {
    port::RtuSettings settings;
    settings.format = format;
    settings.answer_timeout_ms = answer_timeout_ms;
    settings.tries = 1;
    return port::rtu_line(port::serial_channel(bridge.near_device(), format), settings);
}

void check_client(std::vector<std::string> const& client) {
    port::PacedBridge const bridge(format);
    port::Responder meters(bridge.far_device(), example_units());
    Process asking(with(with(client, {bridge.near_device()}), example_asks));
    CHECK(lines_of(asking.rest()) == example_answers);
    CHECK(meters.value(1, 1) == 10);
    CHECK(meters.value(1, 2) == 3);
}
}  // namespace

TEST_CASE("a line of two units served by pymodbus is read and written") {
    port::PacedBridge const bridge(format);
    Process const server(with(python("pymodbus_rtu_server.py"), {bridge.far_device()}));
    REQUIRE_MESSAGE(server.line() == "1", "pymodbus did not start: is python3-pymodbus installed?");
    auto const line = line_to(bridge);
    ask_for_the_examples(*line, 1);
    ask_for_the_examples(*line, 2);
    check_identity(*line, 1);
}

TEST_CASE("a unit that is not on pymodbus's line stays silent, and the next one answers") {
    port::PacedBridge const bridge(format);
    Process const server(with(python("pymodbus_rtu_server.py"), {bridge.far_device()}));
    REQUIRE(server.line() == "1");
    auto const quick = line_to(bridge, 1000);
    CHECK(port::read_registers(*quick, 9, holding, 107, 3).error().kind == codec::FaultKind::no_answer);
    CHECK(port::read_registers(*quick, 2, holding, 0, 1).value() == codec::Registers{2});
}

TEST_CASE("a line served by modbus-serial is read and written") {
    port::PacedBridge const bridge(format);
    Process const server(with(node("modbus_serial_server.js"), {"rtu", bridge.far_device()}));
    REQUIRE_MESSAGE(server.line() == "1", "modbus-serial did not start: ./test installs it, into build/peers");
    auto const line = line_to(bridge);
    ask_for_the_examples(*line, 1);
    ask_for_the_examples(*line, 2);
    check_identity(*line, 1);
}

TEST_CASE("pymodbus asks over a serial line") { check_client(python("pymodbus_rtu_client.py")); }

TEST_CASE("modbus-serial asks over a serial line") { check_client(with(node("modbus_serial_client.js"), {"rtu"})); }

TEST_CASE("mbpoll asks over a serial line") {
    port::PacedBridge const bridge(format);
    port::Responder const meters(bridge.far_device(), example_units());
    std::vector<std::string> const words{"mbpoll", "-m", "rtu", "-b", "19200", "-P", "none", "-s", "2", "-0", "-t", "4",
                                         "-1",     "-o", "5"};
    auto const good = Process(with(words, {"-a", "1", "-r", "107", "-c", "3", bridge.near_device()})).rest();
    CHECK_MESSAGE(good.find("[107]: \t555") != std::string::npos, good);
    CHECK_MESSAGE(good.find("[109]: \t100") != std::string::npos, good);
}
