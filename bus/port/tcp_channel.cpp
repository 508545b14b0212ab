// A TCP connection as a channel: to a converter that passes RTU frames on, and under Modbus TCP (tcp_line.cpp).
#include <array>
#include <cerrno>
#include <memory>
#include <string>
#include <system_error>
#include <thread>
#include <vector>

#include <fmt/format.h>
#include <netdb.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/socket.h>

#include "bus/port/stream.hpp"

namespace phasewright::port {

namespace {
using codec::Fault;
using codec::FaultKind;

Fault unreachable(std::string detail) {
    return {.kind = FaultKind::unreachable, .detail = std::move(detail), .exception = {}, .where = {}};
}

struct Place {
    sockaddr_storage address{};
    socklen_t size = 0;
    int family = AF_UNSPEC;
};

// The system's look-up cannot be interrupted, so it runs on a thread of its own; whoever has no more patience leaves
// it behind with this, which both sides hold.
struct LookUp {
    std::string host;
    std::string port;
    Bell done;
    int error = 0;  // these two are written before the bell rings
    std::vector<Place> places;

    void run(int flags) {
        addrinfo hints{};
        hints.ai_socktype = SOCK_STREAM;
        hints.ai_flags = AI_NUMERICSERV | flags;
        addrinfo* list = nullptr;
        error = ::getaddrinfo(host.c_str(), port.c_str(), &hints, &list);
        for (auto const* one = list; one != nullptr; one = one->ai_next) {
            if (one->ai_addrlen > sizeof(sockaddr_storage)) continue;
            Place place{.address = {}, .size = one->ai_addrlen, .family = one->ai_family};
            auto const* const from = reinterpret_cast<std::byte const*>(one->ai_addr);
            std::copy_n(from, one->ai_addrlen, reinterpret_cast<std::byte*>(&place.address));
            places.push_back(place);
        }
        if (list != nullptr) ::freeaddrinfo(list);
    }
};

std::expected<std::vector<Place>, Fault> places_of(TcpChannelSettings const& settings, Bell const& bell,
                                                   SteadyTime deadline) {
    auto const look_up = std::make_shared<LookUp>();
    look_up->host = settings.host;
    look_up->port = std::to_string(settings.port);
    look_up->run(AI_NUMERICHOST);  // an address is known without asking anybody
    if (look_up->error == 0) return look_up->places;
    std::thread([look_up] {
        look_up->run(0);
        look_up->done.ring();
    }).detach();
    switch (wait_for(look_up->done.descriptor(), Await::readable, bell, deadline)) {
        case Woke::bell: return std::unexpected(cancelled_fault());
        case Woke::deadline: return std::unexpected(unreachable("the host's name was not resolved in time"));
        case Woke::ready: break;
    }
    if (!look_up->done.rung()) return std::unexpected(unreachable("the host's name could not be looked up"));
    if (look_up->error != 0)
        return std::unexpected(
            unreachable(fmt::format("the host's name is not known: {}", ::gai_strerror(look_up->error))));
    return look_up->places;
}

std::expected<Descriptor, Fault> connected(Place const& place, Bell const& bell, SteadyTime deadline, int timeout_ms) {
    Descriptor socket(::socket(place.family, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, IPPROTO_TCP));
    auto const failed = [](int error) {
        return std::unexpected(unreachable(std::generic_category().message(error)));
    };
    if (!socket.open()) return failed(errno);
    if (::connect(socket.get(), reinterpret_cast<sockaddr const*>(&place.address), place.size) != 0) {
        if (errno != EINPROGRESS) return failed(errno);
        switch (wait_for(socket.get(), Await::writable, bell, deadline)) {
            case Woke::bell: return std::unexpected(cancelled_fault());
            case Woke::deadline:
                return std::unexpected(unreachable(fmt::format("nothing came within {} ms", timeout_ms)));
            case Woke::ready: break;
        }
        int error = 0;
        socklen_t size = sizeof error;
        if (::getsockopt(socket.get(), SOL_SOCKET, SO_ERROR, &error, &size) != 0) return failed(errno);
        if (error != 0) return failed(error);
    }
    int const yes = 1;
    (void)::setsockopt(socket.get(), IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes);
    return socket;
}

class TcpChannel final : public Stream {
public:
    explicit TcpChannel(TcpChannelSettings settings) : settings_(std::move(settings)) {}

    std::expected<void, Fault> open() override {
        if (bell().rung()) return std::unexpected(cancelled_fault());
        if (descriptor().open()) return {};
        auto const deadline =
            std::chrono::steady_clock::now() + std::chrono::milliseconds(settings_.connect_timeout_ms);
        auto const places = places_of(settings_, bell(), deadline);
        if (!places) return std::unexpected(places.error());
        auto last = unreachable("the host has no address");
        for (auto const& one : *places) {
            auto socket = connected(one, bell(), deadline, settings_.connect_timeout_ms);
            if (socket) {
                descriptor() = std::move(*socket);
                return {};
            }
            last = socket.error();
            if (last.kind == FaultKind::cancelled) break;
        }
        return std::unexpected(last);
    }
    void close() override { descriptor().reset(); }

    std::optional<plan::SerialFormat> format() const override { return std::nullopt; }
    std::expected<void, Fault> set_format(plan::SerialFormat const&) override {
        return std::unexpected(Fault{.kind = FaultKind::not_offered,
                                     .detail = "speed and parity are set at the converter itself, not over TCP",
                                     .exception = {},
                                     .where = place()});
    }
    std::string place() const override {
        bool const six = settings_.host.find(':') != std::string::npos;
        return fmt::format(fmt::runtime(six ? "[{}]:{}" : "{}:{}"), settings_.host, settings_.port);
    }

protected:
    long write_some(codec::BytesView bytes) override {
        return ::send(descriptor().get(), bytes.data(), bytes.size(), MSG_NOSIGNAL);
    }

private:
    TcpChannelSettings settings_;
};
}  // namespace

std::unique_ptr<Channel> tcp_channel(TcpChannelSettings settings) {
    return std::make_unique<TcpChannel>(std::move(settings));
}

}  // namespace phasewright::port
