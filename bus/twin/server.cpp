#define ASIO_STANDALONE
#define ASIO_NO_DEPRECATED
#include "bus/twin/server.hpp"

#include <array>

#include <asio.hpp>

#include "bus/codec/tcp_frame.hpp"
#include "bus/twin/building.hpp"
#include "bus/twin/serial_door.hpp"

namespace phasewright::twin {

namespace {
using asio::ip::tcp;

// One client. It is read again only when its answers are gone, so a client that does not listen holds up
// itself alone.
class Session : public std::enable_shared_from_this<Session> {
public:
    Session(tcp::socket socket, Host& host, Clock const& clock)
        : socket_(std::move(socket)), host_(host), clock_(clock) {}

    void read() {
        socket_.async_read_some(asio::buffer(buffer_),
                                [self = shared_from_this()](asio::error_code error, std::size_t count) {
                                    if (!error) self->answer(count);
                                });
    }

private:
    void answer(std::size_t count) {
        auto const result = assembler_.feed({buffer_.data(), count});
        out_.clear();
        for (auto const& frame : result.frames) {
            auto answer = frame;
            answer.pdu = answer_of(frame);
            codec::put_bytes(out_, codec::to_bytes(answer));
        }
        // A stream that is not Modbus cannot be found back into: answer what was whole, then close.
        bool const lost = result.fault.has_value();
        asio::async_write(socket_, asio::buffer(out_),
                          [self = shared_from_this(), lost](asio::error_code error, std::size_t) {
                              if (!error && !lost) self->read();
                          });
    }

    [[nodiscard]] codec::Bytes answer_of(codec::TcpFrame const& frame) {
        if (auto* const meter = host_.meter_at(frame.unit)) return meter->answer(frame.pdu, clock_());
        std::uint8_t const function = frame.pdu.empty() ? std::uint8_t{0} : codec::u8_at(frame.pdu, 0);
        return codec::exception_pdu(function, codec::ExceptionCode::gateway_target_failed_to_respond);
    }

    tcp::socket socket_;
    Host& host_;
    Clock const& clock_;
    codec::TcpAssembler assembler_;
    std::array<std::byte, 4096> buffer_{};
    codec::Bytes out_;
};

struct Door {
    Host host;
    tcp::acceptor acceptor;
    asio::steady_timer pause;
};
}  // namespace

struct Server::State {
    asio::io_context io{1};
    Clock clock;
    std::vector<std::unique_ptr<Door>> doors;
    std::map<std::string, int> ports;
    std::vector<std::unique_ptr<SerialDoor>> serial_doors;
    std::map<std::string, std::string> devices;
    std::map<std::string, VirtualMeter*> by_point;

    void accept(Door& door) {
        door.acceptor.async_accept([this, &door](asio::error_code error, tcp::socket socket) {
            if (error == asio::error::operation_aborted) return;
            if (error) {  // usually too many open files: wait until some client has left
                door.pause.expires_after(std::chrono::milliseconds(100));
                door.pause.async_wait([this, &door](asio::error_code stopped) {
                    if (!stopped) accept(door);
                });
                return;
            }
            asio::error_code ignored;
            socket.set_option(tcp::no_delay{true}, ignored);
            std::make_shared<Session>(std::move(socket), door.host, clock)->read();
            accept(door);
        });
    }

    [[nodiscard]] std::expected<void, quantity::Fault> listen(Host host) {
        auto door = std::make_unique<Door>(Door{std::move(host), tcp::acceptor{io}, asio::steady_timer{io}});
        tcp::endpoint const place{asio::ip::address_v4::loopback(),
                                  static_cast<std::uint16_t>(door->host.port)};
        asio::error_code error;
        door->acceptor.open(place.protocol(), error);
        if (!error) door->acceptor.set_option(tcp::acceptor::reuse_address{true}, error);
        if (!error) door->acceptor.bind(place, error);
        if (!error) door->acceptor.listen(asio::socket_base::max_listen_connections, error);
        tcp::endpoint const got = error ? place : door->acceptor.local_endpoint(error);
        if (error)
            return std::unexpected(quantity::Fault{
                .what = "the virtual meter cannot listen: " + error.message(),
                .where = "127.0.0.1:" + std::to_string(door->host.port) + " of " + door->host.name,
                .found = {},
                .allowed = "a port that is free and that this user may open",
                .remedy = "port 0 in the plan lets the operating system choose one"});
        for (auto const& point : door->host.points) ports[point] = got.port();
        accept(*door);
        doors.push_back(std::move(door));
        return {};
    }

    [[nodiscard]] std::expected<void, quantity::Fault> listen(BusLine line) {
        auto const id = line.planned().id;
        auto door = SerialDoor::open(io, std::move(line), clock);
        if (!door) return std::unexpected(door.error());
        devices.emplace(id, (*door)->device());
        serial_doors.push_back(std::move(*door));
        return {};
    }
};

Server::Server(std::unique_ptr<State> state) : state_(std::move(state)) {}
Server::Server(Server&&) noexcept = default;
Server& Server::operator=(Server&&) noexcept = default;
Server::~Server() = default;

std::expected<Server, quantity::Fault> Server::open(plan::Site const& site, WiredSite const& wired,
                                                    ProfileSource const& profiles, Clock clock,
                                                    std::optional<BusTruth> const& bus) {
    auto building = building_of(site, wired, bus ? *bus : as_planned_bus(site), profiles);
    if (!building) return std::unexpected(building.error());
    try {
        auto state = std::make_unique<State>();
        state->clock = std::move(clock);
        state->by_point = std::move(building->by_point);
        for (auto& host : building->hosts)
            if (auto const listening = state->listen(std::move(host)); !listening)
                return std::unexpected(listening.error());
        for (auto& line : building->lines)
            if (auto const listening = state->listen(std::move(line)); !listening)
                return std::unexpected(listening.error());
        return Server{std::move(state)};
    } catch (std::system_error const& error) {
        return std::unexpected(
            quantity::Fault{.what = std::string{"the network cannot be used: "} + error.what(),
                            .where = {},
                            .found = {},
                            .allowed = {},
                            .remedy = "more open files, perhaps"});
    }
}

std::map<std::string, int> const& Server::ports() const { return state_->ports; }
std::map<std::string, std::string> const& Server::devices() const { return state_->devices; }

void Server::rewire(WiredSite wired) const {
    asio::post(state_->io, [state = state_.get(), wired = std::move(wired)] {
        double const now_s = state->clock();
        for (auto const& [point, as_wired] : wired.points)
            if (auto const meter = state->by_point.find(point); meter != state->by_point.end())
                meter->second->rewire(as_wired, now_s);
    });
}

void Server::run() { state_->io.run(); }
void Server::stop() const { state_->io.stop(); }

}  // namespace phasewright::twin
