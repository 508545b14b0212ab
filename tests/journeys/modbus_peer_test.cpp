// The Modbus client against pymodbus, a server that shares nothing with this project
// (tests/journeys/peer_server.py says what it holds): values, writes, identity, refusal, an absent unit, a
// connection that ends.
#include <doctest/doctest.h>

#include <array>
#include <csignal>
#include <cstdlib>
#include <stdexcept>

#include <sys/wait.h>
#include <unistd.h>

#include "bus/port/tcp_line.hpp"
#include "bus/profile/meter_reading.hpp"

using namespace phasewright;

namespace {

constexpr auto holding = codec::Function::read_holding_registers;
constexpr auto input = codec::Function::read_input_registers;

// The Python process. It ends when this object does: its standard input closes.
class PeerServer {
public:
    PeerServer() {
        std::array<int, 2> to_child{};
        std::array<int, 2> from_child{};
        if (pipe(to_child.data()) != 0 || pipe(from_child.data()) != 0) throw std::runtime_error("no pipe");
        child_ = fork();
        if (child_ == 0) {
            dup2(to_child[0], STDIN_FILENO);
            dup2(from_child[1], STDOUT_FILENO);
            for (int const end : {to_child[0], to_child[1], from_child[0], from_child[1]}) close(end);
            execl("/usr/bin/python3", "python3", PHASEWRIGHT_SOURCE_DIR "/tests/journeys/peer_server.py",
                  nullptr);
            _exit(127);
        }
        close(to_child[0]);
        close(from_child[1]);
        stdin_ = to_child[1];
        stdout_ = from_child[0];
        std::string line;
        for (char c = 0; read(stdout_, &c, 1) == 1 && c != '\n';) line += c;
        port_ = static_cast<std::uint16_t>(std::atoi(line.c_str()));
    }
    PeerServer(PeerServer const&) = delete;
    PeerServer& operator=(PeerServer const&) = delete;
    ~PeerServer() { stop(); }

    void stop() {
        if (child_ <= 0) return;
        close(stdin_);
        close(stdout_);
        kill(child_, SIGTERM);
        waitpid(child_, nullptr, 0);
        child_ = 0;
    }
    [[nodiscard]] std::uint16_t port() const { return port_; }

private:
    pid_t child_ = 0;
    int stdin_ = -1;
    int stdout_ = -1;
    std::uint16_t port_ = 0;
};

std::unique_ptr<port::Line> line_to(PeerServer const& server, int answer_timeout_ms = 5000) {
    REQUIRE_MESSAGE(server.port() != 0, "pymodbus did not start: is python3-pymodbus installed?");
    return port::tcp_line(
        {.host = "127.0.0.1", .port = server.port(), .answer_timeout_ms = answer_timeout_ms});
}

void check_near(readings::Column const& column, std::array<double, 3> const& expected, double tolerance) {
    REQUIRE(column.size() == 3);
    for (std::size_t at = 0; at < 3; ++at) {
        REQUIRE(column[at].has_value());
        CHECK(column[at].value() == doctest::Approx(expected.at(at)).epsilon(tolerance));
    }
}

// What peer_server.py says its meters show.
void check_reading(profile::MeterReading const& reading) {
    check_near(reading.snapshot.v, {231.0, 229.0, 232.0}, 1e-6);
    check_near(reading.snapshot.i, {41.2, 38.7, 44.0}, 1e-6);
    check_near(reading.snapshot.p, {8760.0, -8150.0, 9390.0}, 1e-6);
    check_near(reading.snapshot.q, {3730.0, -3470.0, 3990.0}, 1e-6);
    check_near(reading.snapshot.v_ll, {398.4, 399.2, 401.0}, 1e-6);
    CHECK(reading.snapshot.hz.value() == doctest::Approx(50.0));
    CHECK_FALSE(reading.snapshot.i_n.has_value());
}

}  // namespace

TEST_CASE("an independent server's registers are read and written as the standard's examples have them") {
    PeerServer const server;
    auto const line = line_to(server);
    CHECK(port::read_registers(*line, 1, holding, 107, 3).value() == codec::Registers{555, 0, 100});
    CHECK(port::read_registers(*line, 1, input, 8, 1).value() == codec::Registers{10});
    CHECK(port::write_registers(*line, 1, 1, {0x000A, 0x0102}).has_value());
    CHECK(port::read_registers(*line, 1, holding, 1, 2).value() == codec::Registers{0x000A, 0x0102});
    CHECK(port::write_register(*line, 1, 2, 3).has_value());
    CHECK(port::read_registers(*line, 1, holding, 1, 2).value() == codec::Registers{0x000A, 3});
}

TEST_CASE("an independent server's identity is read object by object") {
    PeerServer const server;
    auto const line = line_to(server);
    auto const found = port::read_identification(*line, 1);
    REQUIRE(found.has_value());
    REQUIRE(found->objects.size() == 3);
    CHECK(found->objects[0].text == "Oakenmere");
    CHECK(found->objects[1].text == "OK-3");
    CHECK(found->objects[2].text == "V1.0");
}

TEST_CASE("a register that does not exist is refused with exception 2") {
    PeerServer const server;
    auto const line = line_to(server);
    auto const values = port::read_registers(*line, 1, holding, 107, 4);
    REQUIRE_FALSE(values.has_value());
    CHECK(values.error().kind == codec::FaultKind::refused);
    CHECK(values.error().exception == 2);
}

TEST_CASE("an absent unit is silent, and the units beside it still answer") {
    PeerServer const server;
    auto const line = line_to(server, 300);
    CHECK(port::read_registers(*line, 9, holding, 107, 3).error().kind == codec::FaultKind::no_answer);
    auto const patient = line_to(server);
    CHECK(port::read_registers(*patient, 1, holding, 107, 3).has_value());
}

TEST_CASE("a server that ends costs a fault, and no hang") {
    PeerServer server;
    auto const line = line_to(server);
    REQUIRE(port::read_registers(*line, 1, holding, 107, 3).has_value());
    server.stop();
    auto const values = port::read_registers(*line, 1, holding, 107, 3);
    REQUIRE_FALSE(values.has_value());
    CHECK((values.error().kind == codec::FaultKind::unreachable ||
           values.error().kind == codec::FaultKind::closed));
}

TEST_CASE("SunSpec meters laid out by other code are found and read") {
    PeerServer const server;
    auto const line = line_to(server);
    for (auto const& [unit, model] : {std::pair{2, 203}, std::pair{3, 213}}) {
        CAPTURE(model);
        auto const reading = profile::find_sunspec(*line, static_cast<std::uint8_t>(unit));
        REQUIRE(reading.has_value());
        CHECK(reading->sunspec_model == model);
        CHECK(reading->identity == "Tarnfell T3, serial TY-7");
        check_reading(*reading);
    }
    auto const none = profile::find_sunspec(*line, 1);
    CHECK(none.error().kind == codec::FaultKind::not_offered);
}

TEST_CASE("a profile's numbers, laid out low word first by other code, are read") {
    PeerServer const server;
    auto const line = line_to(server);
    auto const wexby = profile::read_profile_file(PHASEWRIGHT_SOURCE_DIR "/profiles/wexby-w2.toml");
    REQUIRE(wexby.has_value());
    auto const reading = profile::read_meter(*line, 4, *wexby);
    if (!reading) FAIL(codec::to_finding(reading.error()));
    check_reading(*reading);
    CHECK(reading->identity == "Wexby W2, serial 1234");
    CHECK(reading->ct_programmed == quantity::TransformerRatio{200.0, 5.0});
    CHECK(reading->skew_s > 0.0);
    CHECK(reading->skew_s < 5.0);
}
