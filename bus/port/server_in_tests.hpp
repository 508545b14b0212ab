// For tests: a TCP server on loopback, on a port that the system chooses, whose every move the test writes
// down. It is made of plain sockets and shares nothing with the line that it tests.
#pragma once
#include <atomic>
#include <functional>
#include <stdexcept>
#include <thread>

#include <arpa/inet.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include "bus/codec/bytes.hpp"

namespace phasewright::port {

// One accepted connection, as the test's script sees it.
class Peer {
public:
    explicit Peer(int socket, std::atomic<bool> const& stop) : socket_(socket), stop_(stop) {}
    Peer(Peer const&) = delete;
    Peer& operator=(Peer const&) = delete;
    ~Peer() { ::close(socket_); }

    void send(codec::BytesView bytes) const {
        (void)::send(socket_, bytes.data(), bytes.size(), MSG_NOSIGNAL);
    }

    // The next bytes, or nothing when the other side closed or the test ends.
    [[nodiscard]] codec::Bytes receive() const {
        codec::Bytes bytes(512);
        while (!stop_) {
            pollfd waiting{.fd = socket_, .events = POLLIN, .revents = 0};
            if (::poll(&waiting, 1, 10) == 0) continue;
            auto const count = ::recv(socket_, bytes.data(), bytes.size(), 0);
            bytes.resize(count > 0 ? static_cast<std::size_t>(count) : 0);
            return bytes;
        }
        return {};
    }
    void pause_ms(int duration_ms) const {
        for (int waited = 0; waited < duration_ms && !stop_; waited += 5) {
            std::this_thread::sleep_for(std::chrono::milliseconds(5));
        }
    }

private:
    int socket_;
    std::atomic<bool> const& stop_;
};

class Server {
public:
    // The script runs for each connection, one after the other; its number counts from 0.
    explicit Server(std::function<void(Peer const&, int)> script) : script_(std::move(script)) {
        listening_ = ::socket(AF_INET, SOCK_STREAM, 0);
        sockaddr_in address{};
        address.sin_family = AF_INET;
        address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
        auto* const plain = reinterpret_cast<sockaddr*>(&address);
        socklen_t size = sizeof address;
        if (::bind(listening_, plain, size) != 0 || ::listen(listening_, 8) != 0 ||
            ::getsockname(listening_, plain, &size) != 0) {
            throw std::runtime_error("no loopback port for the test's server");
        }
        port_ = ntohs(address.sin_port);
        thread_ = std::thread([this] { serve(); });
    }
    Server(Server const&) = delete;
    Server& operator=(Server const&) = delete;
    ~Server() {
        stop_ = true;
        thread_.join();
        ::close(listening_);
    }

    [[nodiscard]] std::uint16_t port() const { return port_; }
    [[nodiscard]] int connections() const { return connections_; }

private:
    void serve() {
        while (!stop_) {
            pollfd waiting{.fd = listening_, .events = POLLIN, .revents = 0};
            if (::poll(&waiting, 1, 10) <= 0) continue;
            int const socket = ::accept(listening_, nullptr, nullptr);
            if (socket < 0) continue;
            Peer const peer(socket, stop_);
            script_(peer, connections_++);
        }
    }

    std::function<void(Peer const&, int)> script_;
    std::atomic<bool> stop_ = false;
    std::atomic<int> connections_ = 0;
    int listening_ = -1;
    std::uint16_t port_ = 0;
    std::thread thread_;
};

}  // namespace phasewright::port
