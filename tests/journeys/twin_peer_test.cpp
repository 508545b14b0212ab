// The virtual meters, asked by clients that share nothing with this project: pymodbus and mbpoll. What they
// read is taken apart here by the offsets of the published SunSpec model files (models 203, 202, 204 and 213
// of the repository sunspec/models, Apache-2.0), from 40070 on (the marker stands at 40000, then 68 registers
// of the common model), and compared with V I cos(phi) and V I sin(phi) of what the point was wired to.
#include <doctest/doctest.h>

#include <array>
#include <bit>
#include <chrono>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <numbers>
#include <sstream>
#include <thread>

#include <sys/wait.h>
#include <unistd.h>

#include "bus/twin/server.hpp"
#include "bus/twin/wired_file.hpp"

using namespace phasewright;
using plan::Conductor;
using plan::Service;

namespace {
constexpr double rad = std::numbers::pi / 180.0;

// What a command prints; the words of a shell, none of them from outside this file.
std::string printed_by(std::string const& command) {
    std::string all;
    FILE* const pipe = popen(command.c_str(), "r");
    REQUIRE(pipe != nullptr);
    std::array<char, 4096> part{};
    while (auto const count = fread(part.data(), 1, part.size(), pipe)) all.append(part.data(), count);
    CHECK(pclose(pipe) >= 0);
    return all;
}

std::vector<std::string> lines_of(std::string const& text) {
    std::vector<std::string> lines;
    std::istringstream in{text};
    for (std::string line; std::getline(in, line);) lines.push_back(line);
    return lines;
}

std::vector<std::string> ask_pymodbus(int port, std::string const& asks) {
    return lines_of(printed_by("/usr/bin/python3 " PHASEWRIGHT_SOURCE_DIR "/tests/journeys/modbus_peer.py " +
                               std::to_string(port) + " " + asks + " 2>&1"));
}

std::vector<int> registers_in(std::string const& line) {
    std::istringstream in{line};
    std::string word;
    in >> word;
    REQUIRE_MESSAGE(word == "registers", line);
    std::vector<int> registers;
    for (int value = 0; in >> value;) registers.push_back(value);
    return registers;
}

// Point at `offset` of an integer model, whose scale factor stands at `scale_at`.
double scaled(std::vector<int> const& block, std::size_t offset, std::size_t scale_at) {
    auto const number = static_cast<std::int16_t>(block.at(offset));
    auto const scale = static_cast<std::int16_t>(block.at(scale_at));
    return number * std::pow(10.0, scale);
}
double floating(std::vector<int> const& block, std::size_t offset) {
    auto const bits = (static_cast<std::uint32_t>(block.at(offset)) << 16U) |
                      static_cast<std::uint32_t>(block.at(offset + 1));
    return static_cast<double>(std::bit_cast<float>(bits));
}

twin::Load load(Conductor from, Conductor to, double amps, double lag_deg) {
    return {.between = {{from, to}}, .amps = amps, .lag_deg = lag_deg};
}

// A gateway with four meters, quiet so that closed forms hold, on a port of the operating system's choice.
class Building {
public:
    Building() {
        site_.panels = {{.id = "main", .name = {}, .nominal = {230.0, 400.0, 50.0}},
                        {.id = "flats", .name = {}, .nominal = {120.0, 240.0, 60.0}}};
        wired_.supplies["main"] = {.v = {231.0, 229.0, 232.0}, .fifth = 0.0, .seventh = 0.0};
        wired_.supplies["flats"] = {.kind = twin::SupplyKind::split_phase,
                                    .v = {121.0, 119.0},
                                    .hz = 60.0,
                                    .fifth = 0.0,
                                    .seventh = 0.0};
        double const lag_deg = std::acos(0.92) / rad;
        std::vector<twin::Load> const tenant{load(Conductor::a, Conductor::n, 41.2, lag_deg),
                                             load(Conductor::b, Conductor::n, 38.7, lag_deg),
                                             load(Conductor::c, Conductor::n, 44.0, lag_deg)};
        add("tenant", 3, "main", Service::four_wire_wye, tenant);
        wired_.points.at("tenant").cts[1].p1_faces_source = false;
        add("tenant-float", 4, "main", Service::four_wire_wye, tenant);
        wired_.points.at("tenant-float").float_numbers = true;
        add("flat", 5, "flats", Service::split_phase_three_wire,
            {load(Conductor::a, Conductor::n, 10.0, 0.0), load(Conductor::b, Conductor::n, 20.0, -60.0)});
        add("pump", 6, "main", Service::three_wire_two_element,
            {load(Conductor::c, Conductor::b, 10.0, 0.0)});
        auto opened = twin::Server::open(site_, wired_, no_profiles, [] { return 0.0; });
        REQUIRE(opened.has_value());
        server_.emplace(std::move(*opened));
        thread_ = std::jthread{[this] { server_->run(); }};
    }
    ~Building() { server_->stop(); }
    Building(Building const&) = delete;
    Building& operator=(Building const&) = delete;

    [[nodiscard]] int port() const { return server_->ports().at("tenant"); }
    [[nodiscard]] std::map<std::string, int> const& ports() const { return server_->ports(); }

private:
    void add(std::string const& id, int unit, std::string const& panel, Service service,
             std::vector<twin::Load> loads) {
        plan::MeteringPoint point{.id = id,
                                  .panel = panel,
                                  .service = service,
                                  .meter_profile = "sunspec",
                                  .meter_serial = "S-" + id,
                                  .address = {"127.0.0.1", 0, unit, "line-1"}};
        point.ct.ratio = {100.0, 5.0};
        auto wired = twin::as_planned(point);
        wired.loads = std::move(loads);
        wired.wander = {0.0, 0.0};
        wired.noise = {0.0, 0.0};
        site_.points.push_back(point);
        wired_.points.emplace(id, std::move(wired));
    }
    static std::expected<profile::Profile, quantity::Fault> no_profiles(std::string const& name) {
        return std::unexpected(quantity::Fault{.what = "no profile " + name});
    }

    plan::Site site_;
    twin::WiredSite wired_;
    std::optional<twin::Server> server_;
    std::jthread thread_;
};
}  // namespace

TEST_CASE("pymodbus reads the marker, the common model, the meter model and the end mark") {
    Building const building;
    auto const lines =
        ask_pymodbus(building.port(), "3:40000:2 3:40002:68 3:40070:107 3:40177:2 4:40070:2 4:40196:2");
    REQUIRE(lines.size() == 6);
    CHECK(lines[0] == "registers 21365 28243");  // "SunS"
    auto const common = registers_in(lines[1]);
    CHECK(common[0] == 1);
    CHECK(common[1] == 66);
    CHECK(common[50] == 'S' * 256 + '-');  // SN, the serial number, at offset 50
    auto const meter = registers_in(lines[2]);
    CHECK(meter[0] == 203);
    CHECK(meter[1] == 105);
    CHECK(lines[3] == "registers 65535 0");
    CHECK(lines[4] == "registers 213 124");
    CHECK(lines[5] == "registers 65535 0");
}

TEST_CASE("the integer model shows volts, amps, watts and vars of a tenant with one CT turned round") {
    Building const building;
    auto const lines = ask_pymodbus(building.port(), "3:40070:107");
    REQUIRE(lines.size() == 1);
    auto const meter = registers_in(lines[0]);
    std::array const volts{231.0, 229.0, 232.0};
    std::array const amps{41.2, 38.7, 44.0};
    std::array const sense{1.0, -1.0, 1.0};
    double const sine = std::sqrt(1.0 - 0.92 * 0.92);
    double total_w = 0.0;
    for (std::size_t k = 0; k < 3; ++k) {
        CHECK(std::abs(scaled(meter, 8 + k, 15) - volts[k]) <= 0.051);
        CHECK(std::abs(scaled(meter, 3 + k, 6) - amps[k]) <= 0.0051);
        CHECK(std::abs(scaled(meter, 19 + k, 22) - sense[k] * volts[k] * amps[k] * 0.92) <= 5.1);
        CHECK(std::abs(scaled(meter, 29 + k, 32) - sense[k] * volts[k] * amps[k] * sine) <= 5.1);
        total_w += sense[k] * volts[k] * amps[k] * 0.92;
    }
    CHECK(std::abs(scaled(meter, 18, 22) - total_w) <= 5.1);
    CHECK(std::abs(scaled(meter, 16, 17) - 50.0) <= 0.0051);
    // line voltage a-b: the law of cosines at 120 degrees
    CHECK(std::abs(scaled(meter, 12, 15) - std::sqrt(231.0 * 231.0 + 229.0 * 229.0 + 231.0 * 229.0)) <=
          0.051);
}

TEST_CASE("the floating-point model shows the same tenant with every CT as planned") {
    Building const building;
    auto const lines = ask_pymodbus(building.port(), "4:40070:100");
    REQUIRE(lines.size() == 1);
    auto const meter = registers_in(lines[0]);
    CHECK(std::abs(floating(meter, 4) - 41.2) < 1e-3);
    CHECK(std::abs(floating(meter, 14) - 229.0) < 1e-3);
    CHECK(std::abs(floating(meter, 26) - 50.0) < 1e-3);
    CHECK(std::abs(floating(meter, 28) - 0.92 * (231.0 * 41.2 + 229.0 * 38.7 + 232.0 * 44.0)) < 0.1);
    CHECK(std::abs(floating(meter, 32) - 0.92 * 229.0 * 38.7) < 0.1);
}

TEST_CASE("split phase answers as model 202 and two elements as model 204") {
    Building const building;
    auto const lines = ask_pymodbus(building.port(), "5:40070:107 6:40070:107");
    REQUIRE(lines.size() == 2);
    auto const flat = registers_in(lines[0]);
    CHECK(flat[0] == 202);
    CHECK(std::abs(scaled(flat, 8, 15) - 121.0) <= 0.051);
    CHECK(std::abs(scaled(flat, 9, 15) - 119.0) <= 0.051);
    CHECK(std::abs(scaled(flat, 19, 22) - 1210.0) <= 1.01);
    CHECK(std::abs(scaled(flat, 20, 22) - 1190.0) <= 1.01);
    CHECK(std::abs(scaled(flat, 16, 17) - 60.0) <= 0.0051);
    auto const pump = registers_in(lines[1]);
    CHECK(pump[0] == 204);
    // one load between c and b: all of it passes the second element, which measures c against b with the
    // current of c
    double const v_cb = std::sqrt(229.0 * 229.0 + 232.0 * 232.0 + 229.0 * 232.0);
    CHECK(std::abs(scaled(pump, 13, 15) - v_cb) <= 0.051);
    CHECK(std::abs(scaled(pump, 5, 6) - 10.0) <= 0.0051);
    CHECK(std::abs(scaled(pump, 18, 22) - v_cb * 10.0) <= 5.1);
}

TEST_CASE(
    "a unit that is not there answers as a gateway does, a register that is not there as the standard says") {
    Building const building;
    auto const lines = ask_pymodbus(building.port(), "9:40000:2 3:100:2 3:40178:2 3:40000:2 3:identity");
    REQUIRE(lines.size() == 5);
    CHECK(lines[0] == "exception 11");
    CHECK(lines[1] == "exception 2");
    CHECK(lines[2] == "exception 2");
    CHECK(lines[3] == "registers 21365 28243");
    CHECK(lines[4] == "identity phasewright|virtual meter|1");
}

TEST_CASE("mbpoll reads the same registers") {
    Building const building;
    auto const text = printed_by("mbpoll -m tcp -p " + std::to_string(building.port()) +
                                 " -a 3 -0 -r 40070 -c 2 -t 4 -1 127.0.0.1 2>&1");
    CHECK_MESSAGE(text.find("[40070]: \t203") != std::string::npos, text);
    CHECK_MESSAGE(text.find("[40071]: \t105") != std::string::npos, text);
    auto const refused = printed_by("mbpoll -m tcp -p " + std::to_string(building.port()) +
                                    " -a 3 -0 -r 7 -c 1 -t 4 -1 127.0.0.1 2>&1");
    CHECK_MESSAGE(refused.find("Illegal data address") != std::string::npos, refused);
}

TEST_CASE("many clients at once, some of them silent or talking nonsense, do not disturb each other") {
    Building const building;
    auto const port = std::to_string(building.port());
    std::string const script = "for i in 1 2 3 4 5 6 7 8; do exec {fd}<>/dev/tcp/127.0.0.1/" + port +
                               "; done; printf 'GET / HTTP/1.0\\r\\n\\r\\n' >/dev/tcp/127.0.0.1/" + port +
                               "; for i in 1 2 3 4 5 6; do mbpoll -m tcp -p " + port +
                               " -a 3 -0 -r 40070 -c 2 -t 4 -1 127.0.0.1 & done; wait";
    auto const text = printed_by("bash -c '" + [](std::string s) {
        for (auto at = s.find('\''); at != std::string::npos; at = s.find('\'', at + 4))
            s.replace(at, 1, "'\\''");
        return s;
    }(script) + "' 2>&1");
    std::size_t answers = 0;
    for (auto at = text.find("203"); at != std::string::npos; at = text.find("203", at + 1)) ++answers;
    CHECK_MESSAGE(answers == 6, text);
}

TEST_CASE("points behind one gateway share its port") {
    Building const building;
    for (auto const& [id, port] : building.ports()) CHECK(port == building.port());
    CHECK(building.ports().size() == 4);
}
