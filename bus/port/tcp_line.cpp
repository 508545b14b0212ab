#include "bus/port/tcp_line.hpp"

#include <algorithm>
#include <array>
#include <chrono>
#include <optional>
#include <utility>

#define ASIO_STANDALONE
#define ASIO_NO_DEPRECATED
#include <asio.hpp>
#include <fmt/format.h>

#include "bus/codec/tcp_frame.hpp"

namespace phasewright::port {

namespace {

using asio::ip::tcp;
using codec::Fault;
using codec::FaultKind;
using Clock = std::chrono::steady_clock;

Fault fault(FaultKind kind, std::string detail) { return {.kind = kind, .detail = std::move(detail)}; }

class TcpLine final : public Line {
public:
    explicit TcpLine(TcpSettings settings) : settings_(std::move(settings)), socket_(io_) {}

    std::expected<codec::Bytes, Fault> ask(std::uint8_t unit, codec::BytesView question) override;
    std::string place() const override {
        bool const six = settings_.host.find(':') != std::string::npos;
        return fmt::format(fmt::runtime(six ? "[{}]:{}" : "{}:{}"), settings_.host, settings_.port);
    }

private:
    std::expected<codec::Bytes, Fault> ask_once(std::uint8_t unit, codec::BytesView question);
    std::optional<Fault> connect();
    std::optional<Fault> send(codec::Bytes const& bytes, Clock::time_point deadline);
    std::expected<codec::Bytes, Fault> wait_for(codec::TcpFrame const& asked, Clock::time_point deadline);
    std::optional<Fault> receive(Clock::time_point deadline);
    Fault fault_at_deadline(std::optional<std::uint16_t> stray) const;
    void drop();

    // Runs the one operation that was started until it ends or its time is over; what is over time is
    // cancelled. False when time ran out.
    bool run_until(Clock::time_point deadline, bool const& done) {
        io_.restart();
        while (!done && io_.run_one_until(deadline) > 0) {
        }
        return done;
    }
    template <class Cancel>
    void abandon(Cancel const& cancel) {
        cancel();
        io_.restart();
        io_.run();
    }

    TcpSettings settings_;
    asio::io_context io_;
    tcp::socket socket_;
    codec::TcpAssembler assembler_;
    std::vector<codec::TcpFrame> arrived_;
    std::uint16_t transaction_ = 0;
    std::uint16_t first_transaction_ = 0;  // of this connection
    bool fresh_ = true;                    // nothing was asked over this connection before
    std::size_t heard_bytes_ = 0;          // since this question was sent
    bool lost_step_ = false;               // the stream went wrong behind a whole frame
};

void TcpLine::drop() {
    asio::error_code ignored;
    socket_.close(ignored);
    assembler_.clear();
    arrived_.clear();
    lost_step_ = false;
}

std::optional<Fault> TcpLine::connect() {
    auto const deadline = Clock::now() + std::chrono::milliseconds(settings_.connect_timeout_ms);
    auto const unreachable = [](std::string detail) {
        return fault(FaultKind::unreachable, std::move(detail));
    };
    std::vector<tcp::endpoint> endpoints;
    asio::error_code failed;
    auto const address = asio::ip::make_address(settings_.host, failed);
    if (!failed) {
        endpoints.emplace_back(address, settings_.port);
    } else {
        // The system's look-up cannot be interrupted: a name server that stays silent can outlast this
        // deadline.
        tcp::resolver resolver(io_);
        bool done = false;
        resolver.async_resolve(settings_.host, std::to_string(settings_.port),
                               [&](asio::error_code error, tcp::resolver::results_type const& results) {
                                   failed = error;
                                   for (auto const& result : results)
                                       endpoints.push_back(result.endpoint());
                                   done = true;
                               });
        if (!run_until(deadline, done)) {
            abandon([&] { resolver.cancel(); });
            return unreachable("the host's name was not resolved in time");
        }
        if (failed) return unreachable(fmt::format("the host's name is not known: {}", failed.message()));
    }
    bool done = false;
    asio::async_connect(socket_, endpoints, [&](asio::error_code error, tcp::endpoint const&) {
        failed = error;
        done = true;
    });
    if (!run_until(deadline, done)) {
        abandon([&] { drop(); });
        return unreachable(fmt::format("nothing came within {} ms", settings_.connect_timeout_ms));
    }
    if (failed) {
        drop();
        return unreachable(failed.message());
    }
    asio::error_code ignored;
    socket_.set_option(tcp::no_delay(true), ignored);
    assembler_.clear();
    first_transaction_ = static_cast<std::uint16_t>(transaction_ + 1);
    fresh_ = true;
    return std::nullopt;
}

std::optional<Fault> TcpLine::send(codec::Bytes const& bytes, Clock::time_point deadline) {
    bool done = false;
    asio::error_code failed;
    asio::async_write(socket_, asio::buffer(bytes), [&](asio::error_code error, std::size_t) {
        failed = error;
        done = true;
    });
    if (!run_until(deadline, done)) {
        abandon([&] { drop(); });
        return fault(FaultKind::no_answer, "the device did not take the question");
    }
    if (!failed) return std::nullopt;
    drop();
    return fault(FaultKind::closed, failed.message());
}

// Takes in what comes next. A fault other than the deadline's costs the connection.
std::optional<Fault> TcpLine::receive(Clock::time_point deadline) {
    std::array<std::byte, 1024> buffer{};
    bool done = false;
    asio::error_code failed;
    std::size_t count = 0;
    socket_.async_read_some(asio::buffer(buffer), [&](asio::error_code error, std::size_t came) {
        failed = error;
        count = came;
        done = true;
    });
    if (!run_until(deadline, done)) {
        asio::error_code ignored;
        abandon([&] { socket_.cancel(ignored); });
        if (failed || count == 0) return fault(FaultKind::no_answer, {});
    }
    if (failed) {
        auto const detail = assembler_.held() > 0
                                ? fmt::format("{} bytes of an unfinished answer came", assembler_.held())
                                : std::string("not one byte of the answer came");
        drop();
        return fault(FaultKind::closed, detail);
    }
    heard_bytes_ += count;
    auto result = assembler_.feed(codec::BytesView(buffer).first(count));
    for (auto& frame : result.frames)
        arrived_.push_back(std::move(frame));
    lost_step_ = result.fault.has_value();
    // A whole frame before the broken one may still be the answer.
    if (result.fault && arrived_.empty()) {
        drop();
        return result.fault;
    }
    return std::nullopt;
}

Fault TcpLine::fault_at_deadline(std::optional<std::uint16_t> stray) const {
    auto const waited = fmt::format("within {} ms", settings_.answer_timeout_ms);
    if (stray) {
        auto const age = static_cast<std::uint16_t>(transaction_ - *stray);
        bool const ours = age <= static_cast<std::uint16_t>(transaction_ - first_transaction_);
        if (!ours) {
            return fault(
                FaultKind::wrong_transaction,
                fmt::format("transaction {} was asked, only {} came {}", transaction_, *stray, waited));
        }
        return fault(FaultKind::no_answer,
                     fmt::format("only a late answer to an earlier question came {}", waited));
    }
    if (assembler_.held() > 0) {
        return fault(FaultKind::no_answer, fmt::format("{} bytes came {}, and the rest of the answer did not",
                                                       assembler_.held(), waited));
    }
    return fault(FaultKind::no_answer, fmt::format("silence {}", waited));
}

std::expected<codec::Bytes, Fault> TcpLine::wait_for(codec::TcpFrame const& asked,
                                                     Clock::time_point deadline) {
    std::optional<std::uint16_t> stray;
    while (true) {
        for (auto& frame : std::exchange(arrived_, {})) {
            auto const wrong = codec::mismatch(frame, asked);
            if (!wrong) return std::move(frame.pdu);
            if (wrong->kind == FaultKind::wrong_unit) return std::unexpected(*wrong);
            stray = frame.transaction;  // late, or not ours: thrown away
        }
        auto const failed = receive(deadline);
        if (!failed) continue;
        if (failed->kind != FaultKind::no_answer) return std::unexpected(*failed);
        auto const silent = fault_at_deadline(stray);
        if (assembler_.held() > 0)
            drop();  // the rest of a frame may never come; what follows would be misread
        return std::unexpected(silent);
    }
}

std::expected<codec::Bytes, Fault> TcpLine::ask_once(std::uint8_t unit, codec::BytesView question) {
    if (!socket_.is_open()) {
        if (auto const failed = connect()) return std::unexpected(*failed);
    }
    arrived_.clear();
    heard_bytes_ = 0;
    codec::TcpFrame const asked{
        .transaction = ++transaction_, .unit = unit, .pdu = codec::Bytes(question.begin(), question.end())};
    auto const deadline = Clock::now() + std::chrono::milliseconds(settings_.answer_timeout_ms);
    if (auto const failed = send(codec::to_bytes(asked), deadline)) return std::unexpected(*failed);
    auto answer = wait_for(asked, deadline);
    fresh_ = false;
    if (lost_step_) drop();
    return answer;
}

std::expected<codec::Bytes, Fault> TcpLine::ask(std::uint8_t unit, codec::BytesView question) {
    auto const where = fmt::format("{} unit {}", place(), unit);
    if (question.empty() || question.size() > codec::max_pdu_bytes) {
        auto broken =
            fault(FaultKind::bad_question, fmt::format("the question has {} bytes", question.size()));
        broken.where = where;
        return std::unexpected(broken);
    }
    Fault last;
    bool heard = false;
    int left = std::max(1, settings_.tries);
    bool stale_forgiven = false;
    while (left > 0) {
        bool const reused = socket_.is_open() && !fresh_;
        auto answer = ask_once(unit, question);
        if (answer) return answer;
        last = answer.error();
        heard = heard || heard_bytes_ > 0;
        // A device may have closed a connection that stood idle: that is its right, and no failed try.
        bool const stale = reused && last.kind == FaultKind::closed && heard_bytes_ == 0;
        if (stale && !stale_forgiven) {
            stale_forgiven = true;
            continue;
        }
        --left;
    }
    if (!heard) drop();  // perhaps only half of the connection still lives
    last.where = where;
    return std::unexpected(last);
}

}  // namespace

std::unique_ptr<Line> tcp_line(TcpSettings settings) {
    return std::make_unique<TcpLine>(std::move(settings));
}

}  // namespace phasewright::port
