// Both roles against libmodbus, a C library that shares nothing with this project: TCP, and a serial line that takes its
// time. As a serial server it is asked for one unit only: on a line of several it takes a silent unit's question for an
// answer and loses step (docs/decisions/0002-own-modbus-codec.md).
#include <doctest/doctest.h>

#include <atomic>
#include <thread>

#include <arpa/inet.h>
#include <modbus.h>
#include <netinet/in.h>
#include <sys/socket.h>

#include "bus/port/paced_bridge_in_tests.hpp"
#include "bus/port/rtu_line.hpp"
#include "bus/port/tcp_line.hpp"
#include "tests/journeys/examples_in_tests.hpp"
#include "tests/journeys/one_meter_in_tests.hpp"

using namespace phasewright;
using namespace phasewright::journeys;

namespace {
constexpr int unit = 1;
plan::SerialFormat const format{.bit_rate = 19200, .parity = plan::Parity::none, .stop_bits = 2};
using Context = std::unique_ptr<modbus_t, decltype(&modbus_free)>;

// Answers until the other side is gone or the test ends, out of 110 registers that hold the standard's examples.
class LibmodbusServer {
public:
    explicit LibmodbusServer(modbus_t* context) : context_(context, &modbus_free) {
        map_.reset(modbus_mapping_new(0, 0, 110, 9));
        REQUIRE(map_);
        map_->tab_registers[0] = unit;
        map_->tab_registers[107] = 555;
        map_->tab_registers[109] = 100;
        map_->tab_input_registers[8] = 10;
        modbus_set_indication_timeout(context, 0, 50000);
    }
    LibmodbusServer(LibmodbusServer const&) = delete;
    LibmodbusServer& operator=(LibmodbusServer const&) = delete;
    ~LibmodbusServer() {
        stop_ = true;
        if (thread_.joinable()) thread_.join();
        modbus_close(context_.get());
        if (listening_ >= 0) close(listening_);
    }

    void serve_a_line() {
        REQUIRE(modbus_set_slave(context_.get(), unit) == 0);
        REQUIRE(modbus_connect(context_.get()) == 0);
        thread_ = std::thread([this] { answer(); });
    }
    int serve_tcp() {
        listening_ = modbus_tcp_listen(context_.get(), 1);
        REQUIRE(listening_ >= 0);
        sockaddr_in place{};
        socklen_t size = sizeof place;
        REQUIRE(getsockname(listening_, reinterpret_cast<sockaddr*>(&place), &size) == 0);
        thread_ = std::thread([this] {
            pollfd waiting{.fd = listening_, .events = POLLIN, .revents = 0};
            while (!stop_ && poll(&waiting, 1, 20) == 0) {
            }
            if (!stop_ && modbus_tcp_accept(context_.get(), &listening_) >= 0) answer();
        });
        return ntohs(place.sin_port);
    }

private:
    void answer() {
        std::array<std::uint8_t, MODBUS_RTU_MAX_ADU_LENGTH> question{};
        while (!stop_) {
            int const count = modbus_receive(context_.get(), question.data());
            if (count > 0) modbus_reply(context_.get(), question.data(), count, map_.get());
            if (count < 0 && errno == ECONNRESET) return;
        }
    }

    Context context_;
    std::unique_ptr<modbus_mapping_t, decltype(&modbus_mapping_free)> map_{nullptr, &modbus_mapping_free};
    int listening_ = -1;
    std::atomic<bool> stop_ = false;
    std::thread thread_;
};
}  // namespace

TEST_CASE("a libmodbus server is read and written over TCP") {
    LibmodbusServer server(modbus_new_tcp("127.0.0.1", 0));
    auto const line =
        port::tcp_line({.port = static_cast<std::uint16_t>(server.serve_tcp()), .answer_timeout_ms = 10000});
    ask_for_the_examples(*line, unit);
}

TEST_CASE("a libmodbus server is read and written over a serial line") {
    port::PacedBridge const bridge(format);
    LibmodbusServer server(modbus_new_rtu(bridge.far_device().c_str(), 19200, 'N', 8, 2));
    server.serve_a_line();
    port::RtuSettings settings;
    settings.format = format;
    settings.answer_timeout_ms = 10000;
    settings.tries = 1;
    auto const line = port::rtu_line(port::serial_channel(bridge.near_device(), format), settings);
    ask_for_the_examples(*line, unit);
}

TEST_CASE("libmodbus asks a virtual meter over TCP") {
    OneMeter const meter;
    Context const client(modbus_new_tcp("127.0.0.1", meter.port()), &modbus_free);
    modbus_set_response_timeout(client.get(), 10, 0);
    REQUIRE(modbus_connect(client.get()) == 0);
    REQUIRE(modbus_set_slave(client.get(), 3) == 0);
    std::array<std::uint16_t, 125> values{};
    REQUIRE(modbus_read_registers(client.get(), 40000, 2, values.data()) == 2);
    CHECK(values[0] == 0x5375);  // "SunS"
    CHECK(values[1] == 0x6E53);
    REQUIRE(modbus_read_registers(client.get(), 40070, 107, values.data()) == 107);
    CHECK(values[0] == 203);
    CHECK(modbus_read_registers(client.get(), 7, 1, values.data()) == -1);
    CHECK(errno == EMBXILADD);
    modbus_close(client.get());
}

TEST_CASE("libmodbus asks a serial line of two units") {
    port::PacedBridge const bridge(format);
    port::Responder meters(bridge.far_device(), example_units());
    Context const client(modbus_new_rtu(bridge.near_device().c_str(), 19200, 'N', 8, 2), &modbus_free);
    modbus_set_response_timeout(client.get(), 10, 0);
    REQUIRE(modbus_connect(client.get()) == 0);
    std::array<std::uint16_t, 3> values{};
    for (int const asked : {1, 2}) {
        REQUIRE(modbus_set_slave(client.get(), asked) == 0);
        REQUIRE(modbus_read_registers(client.get(), 0, 1, values.data()) == 1);
        CHECK(values[0] == asked);
        REQUIRE(modbus_read_registers(client.get(), 107, 3, values.data()) == 3);
        CHECK(values == std::array<std::uint16_t, 3>{555, 0, 100});
    }
    std::array<std::uint16_t, 2> const written{10, 258};
    CHECK(modbus_write_registers(client.get(), 1, 2, written.data()) == 2);
    CHECK(meters.value(2, 2) == 258);
    CHECK(modbus_write_register(client.get(), 2, 3) == 1);
    CHECK(meters.value(2, 2) == 3);
    CHECK(modbus_read_registers(client.get(), 107, 4, values.data()) == -1);
    CHECK(errno == EMBXILADD);
    modbus_close(client.get());
}
