// Meters that fail: no profile, nobody there, somebody who talks nonsense. The rest of the job must go on.
#include "app/commands/meter_rounds.hpp"

#include <doctest/doctest.h>

#include <array>
#include <thread>

#include <arpa/inet.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

using namespace phasewright;
using namespace phasewright::commands;

namespace {

// A TCP port on loopback; when it accepts, it says something that is no Modbus.
class Babbler {
public:
    Babbler() : socket_(::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0)) {
        sockaddr_in address{};
        address.sin_family = AF_INET;
        address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
        socklen_t size = sizeof address;
        REQUIRE(::bind(socket_, reinterpret_cast<sockaddr*>(&address), size) == 0);
        REQUIRE(::getsockname(socket_, reinterpret_cast<sockaddr*>(&address), &size) == 0);
        port_ = ntohs(address.sin_port);
        REQUIRE(::listen(socket_, 8) == 0);
        worker_ = std::thread([this] {
            for (int caller = ::accept(socket_, nullptr, nullptr); caller >= 0;
                 caller = ::accept(socket_, nullptr, nullptr)) {
                std::array<char, 64> asked{};
                if (::recv(caller, asked.data(), asked.size(), 0) > 0)
                    (void)::send(caller, "I am a printer\r\n", 16, MSG_NOSIGNAL);
                ::close(caller);
            }
        });
    }
    Babbler(Babbler const&) = delete;
    Babbler& operator=(Babbler const&) = delete;
    ~Babbler() {
        ::shutdown(socket_, SHUT_RDWR);
        worker_.join();
        ::close(socket_);
    }
    [[nodiscard]] int port() const { return port_; }

private:
    int socket_;
    int port_ = 0;
    std::thread worker_;
};

int a_closed_port() {
    int const socket = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t size = sizeof address;
    REQUIRE(::bind(socket, reinterpret_cast<sockaddr*>(&address), size) == 0);
    REQUIRE(::getsockname(socket, reinterpret_cast<sockaddr*>(&address), &size) == 0);
    int const port = ntohs(address.sin_port);
    ::close(socket);
    return port;
}

plan::MeteringPoint point_at(std::string id, std::string profile, int port) {
    plan::MeteringPoint point{.id = std::move(id)};
    point.meter_profile = std::move(profile);
    point.address = {.host = "127.0.0.1", .port = port};
    return point;
}

}  // namespace

TEST_CASE("a meter that fails is a finding of its point, and every other meter is still asked") {
    Babbler const babbler;
    plan::Site site;
    site.points = {point_at("printer", "sunspec", babbler.port()),
                   point_at("nobody", "sunspec", a_closed_port()),
                   point_at("unknown", "no-such-profile", babbler.port())};
    std::vector<std::string> asked;
    auto const records =
        read_all_meters(site, {.profiles_folder = "/nowhere", .rounds = 2, .seconds_between = 0.0},
                        [&](std::size_t, std::size_t of, auto const& point) {
                            CHECK(of == 6);
                            asked.push_back(point.id);
                        });
    REQUIRE(records.size() == 3);
    CHECK(asked.size() == 6);
    for (auto const& record : records) {
        CHECK(record.readings.empty());
        REQUIRE(record.findings.size() == 1);  // said once, not once a round
        CHECK(record.findings[0].severity == diagnosis::Severity::mend);
    }
    CHECK(records[0].findings[0].text.find(std::to_string(babbler.port())) != std::string::npos);
    CHECK(records[2].findings[0].text.find("no-such-profile") != std::string::npos);
}

TEST_CASE("the time of a reading is ISO 8601 with its offset") {
    auto const now = iso_now();
    REQUIRE(now.size() == 25);
    CHECK(now[10] == 'T');
    CHECK((now[19] == '+' || now[19] == '-'));
}
