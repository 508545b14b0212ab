#include <array>
#include <cerrno>
#include <memory>
#include <system_error>
#include <utility>

#include <fmt/format.h>
#include <netdb.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/socket.h>
#include <unistd.h>

#include "bus/port/channel.hpp"
#include "bus/port/waker.hpp"

namespace phasewright::port {

namespace {
using codec::Fault;
using codec::FaultKind;

std::unexpected<Fault> failed(FaultKind kind, std::string detail) {
    return std::unexpected(Fault{.kind = kind, .detail = std::move(detail)});
}

class TcpChannel final : public Channel {
public:
    explicit TcpChannel(TcpChannelSettings settings) : settings_(std::move(settings)) {}
    TcpChannel(TcpChannel const&) = delete;
    TcpChannel& operator=(TcpChannel const&) = delete;
    TcpChannel(TcpChannel&&) = delete;
    TcpChannel& operator=(TcpChannel&&) = delete;
    ~TcpChannel() override { shut(); }

    std::expected<void, Fault> open() override;
    void close() override { shut(); }
    std::expected<void, Fault> send(codec::BytesView bytes, SteadyTime deadline) override {
        return or_closed(send_all(descriptor_, bytes, deadline, waker_));
    }
    std::expected<Piece, Fault> receive(SteadyTime deadline) override {
        return or_closed(receive_some(descriptor_, deadline, waker_));
    }
    void discard_input() override {
        if (descriptor_ < 0) return;
        std::array<std::byte, 512> buffer{};
        while (recv(descriptor_, buffer.data(), buffer.size(), MSG_DONTWAIT) > 0) {
        }
    }
    std::optional<plan::SerialFormat> format() const override { return std::nullopt; }
    std::expected<void, Fault> set_format(plan::SerialFormat const&) override {
        return failed(FaultKind::not_offered, "the speed is set in the converter, not from here");
    }
    void cancel() noexcept override { waker_.cancel(); }
    void resume() noexcept override { waker_.resume(); }
    std::string place() const override {
        bool const six = settings_.host.find(':') != std::string::npos;
        return fmt::format(fmt::runtime(six ? "[{}]:{}" : "{}:{}"), settings_.host, settings_.port);
    }

private:
    std::expected<void, Fault> connect_to(addrinfo const& address, SteadyTime deadline);
    void shut() {
        if (descriptor_ >= 0) ::close(descriptor_);
        descriptor_ = -1;
    }
    template <class Result>
    Result or_closed(Result result) {
        if (!result && result.error().kind == FaultKind::closed) shut();
        return result;
    }

    TcpChannelSettings settings_;
    int descriptor_ = -1;
    Waker waker_;
};

std::expected<void, Fault> TcpChannel::connect_to(addrinfo const& address, SteadyTime deadline) {
    descriptor_ = socket(address.ai_family, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (descriptor_ < 0) return failed(FaultKind::unreachable, std::system_category().message(errno));
    if (connect(descriptor_, address.ai_addr, address.ai_addrlen) != 0) {
        if (errno != EINPROGRESS) return failed(FaultKind::unreachable, std::system_category().message(errno));
        auto const woke = waker_.wait(descriptor_, Waker::For::writing, deadline);
        if (woke == Waker::Woke::cancelled) return failed(FaultKind::cancelled, {});
        if (woke == Waker::Woke::deadline)
            return failed(FaultKind::unreachable, fmt::format("nothing came within {} ms", settings_.connect_timeout_ms));
        int error = 0;
        socklen_t size = sizeof error;
        getsockopt(descriptor_, SOL_SOCKET, SO_ERROR, &error, &size);
        if (error != 0) return failed(FaultKind::unreachable, std::system_category().message(error));
    }
    int const on = 1;
    setsockopt(descriptor_, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
    return {};
}

std::expected<void, Fault> TcpChannel::open() {
    if (descriptor_ >= 0) return {};
    auto const deadline = std::chrono::steady_clock::now() + std::chrono::milliseconds(settings_.connect_timeout_ms);
    addrinfo hints{};
    hints.ai_socktype = SOCK_STREAM;
    addrinfo* found = nullptr;
    // The system's look-up cannot be interrupted: a name server that stays silent can outlast the deadline.
    int const error = getaddrinfo(settings_.host.c_str(), std::to_string(settings_.port).c_str(), &hints, &found);
    if (error != 0)
        return failed(FaultKind::unreachable, fmt::format("the host's name is not known: {}", gai_strerror(error)));
    std::unique_ptr<addrinfo, decltype(&freeaddrinfo)> const addresses(found, &freeaddrinfo);
    std::expected<void, Fault> connected = failed(FaultKind::unreachable, "the host has no address");
    for (auto const* address = found; address != nullptr; address = address->ai_next) {
        connected = connect_to(*address, deadline);
        if (connected || connected.error().kind == FaultKind::cancelled) break;
        shut();
    }
    if (!connected) shut();
    return connected;
}
}  // namespace

std::unique_ptr<Channel> tcp_channel(TcpChannelSettings settings) {
    return std::make_unique<TcpChannel>(std::move(settings));
}

}  // namespace phasewright::port
