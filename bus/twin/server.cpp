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
        : socket_(std::move(socket)), pause_(socket_.get_executor()), host_(host), clock_(clock) {}

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
        late_s_ = 0.0;
        for (auto const& frame : result.frames) codec::put_bytes(out_, answer_to(frame));
        // A stream that is not Modbus cannot be found back into: answer what was whole, then close.
        bool const lost = result.fault.has_value();
        if (late_s_ <= 0.0) return write(lost);
        pause_.expires_after(std::chrono::duration_cast<std::chrono::steady_clock::duration>(
            std::chrono::duration<double>(late_s_)));
        pause_.async_wait([self = shared_from_this(), lost](asio::error_code stopped) {
            if (!stopped) self->write(lost);
        });
    }

    void write(bool lost) {
        asio::async_write(socket_, asio::buffer(out_),
                          [self = shared_from_this(), lost](asio::error_code error, std::size_t) {
                              if (!error && !lost) self->read();
                          });
    }

    [[nodiscard]] codec::Bytes answer_to(codec::TcpFrame const& frame) {
        using codec::ExceptionCode;
        auto answer = frame;
        std::uint8_t const function = frame.pdu.empty() ? std::uint8_t{0} : codec::u8_at(frame.pdu, 0);
        auto* const asked = host_.meter_at(frame.unit);
        if (asked == nullptr) {
            answer.pdu = codec::exception_pdu(function, ExceptionCode::gateway_target_failed_to_respond);
            return codec::to_bytes(answer);
        }
        auto const turn = turn_of(asked->manners, ++asked->answers);
        answer.pdu = turn.busy ? codec::exception_pdu(function, ExceptionCode::server_device_busy)
                               : asked->meter->answer(frame.pdu, clock_());
        auto bytes = codec::to_bytes(answer);
        if (turn.truncated) bytes.resize(bytes.size() / 2);
        if (turn.late) late_s_ = std::max(late_s_, asked->manners.late_s);
        return bytes;
    }

    tcp::socket socket_;
    asio::steady_timer pause_;
    Host& host_;
    Clock const& clock_;
    codec::TcpAssembler assembler_;
    std::array<std::byte, 4096> buffer_{};
    codec::Bytes out_;
    double late_s_ = 0.0;  // how much later than usual
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
    plan::Site site;

    // Every point of the plan, in the format of its line.
    [[nodiscard]] std::map<std::string, MeterTruth> truths_in(BusTruth const& bus) const {
        std::map<std::string, MeterTruth> truths;
        for (auto const& point : site.points) truths.emplace(point.id, truth_of(bus, site, point));
        return truths;
    }

    void set_anew(BusTruth const& bus, double now_s) {
        auto const truths = truths_in(bus);
        for (auto const& door : serial_doors) {
            auto const pair = bus.lines.find(door->line().planned().id);
            if (pair != bus.lines.end()) door->line().set_anew(pair->second, truths, now_s);
        }
        for (auto const& door : doors)
            for (auto& one : door->host.meters) {
                auto const& truth = truths.at(one.point);
                one.manners = truth.manners;
                one.meter->set_anew(truth, now_s);
            }
    }

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
        for (auto const& one : door->host.meters) ports[one.point] = got.port();
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
        state->site = site;
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

std::expected<void, quantity::Fault> Server::rewire(WiredSite wired, std::optional<BusTruth> bus) const {
    for (auto const& [point, truth] : bus ? bus->meters : std::map<std::string, MeterTruth>{}) {
        auto const meter = state_->by_point.find(point);
        if (meter == state_->by_point.end() || !meter->second->shipped()) continue;
        if (auto const fault = without_effect(*meter->second->shipped(), truth.twist, point))
            return std::unexpected(*fault);
    }
    asio::post(state_->io, [state = state_.get(), wired = std::move(wired), bus = std::move(bus)] {
        double const now_s = state->clock();
        for (auto const& [point, as_wired] : wired.points)
            if (auto const meter = state->by_point.find(point); meter != state->by_point.end())
                meter->second->rewire(as_wired, now_s);
        if (bus) state->set_anew(*bus, now_s);
    });
    return {};
}

void Server::run() { state_->io.run(); }
void Server::stop() const { state_->io.stop(); }

}  // namespace phasewright::twin
