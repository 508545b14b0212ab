#include "bus/port/tcp_line.hpp"

#include <algorithm>
#include <chrono>
#include <optional>
#include <utility>

#include <fmt/format.h>

#include "bus/codec/question.hpp"
#include "bus/codec/tcp_frame.hpp"
#include "bus/port/channel.hpp"

namespace phasewright::port {

namespace {

using codec::Fault;
using codec::FaultKind;
using Clock = std::chrono::steady_clock;

Fault fault(FaultKind kind, std::string detail) {
    return {.kind = kind, .detail = std::move(detail), .exception = {}, .where = {}};
}

class TcpLine final : public Line {
public:
    explicit TcpLine(TcpSettings settings)
        : settings_(std::move(settings)),
          channel_(tcp_channel({.host = settings_.host,
                                .port = settings_.port,
                                .connect_timeout_ms = settings_.connect_timeout_ms})) {}

    std::expected<codec::Bytes, Fault> ask(std::uint8_t unit, codec::BytesView question) override;
    std::string place() const override { return channel_->place(); }
    void cancel() noexcept override { channel_->cancel(); }
    void resume() noexcept override { channel_->resume(); }

private:
    std::expected<codec::Bytes, Fault> ask_as_often_as_allowed(std::uint8_t unit, codec::BytesView question);
    std::expected<codec::Bytes, Fault> ask_once(std::uint8_t unit, codec::BytesView question, SteadyTime latest);
    std::expected<codec::Bytes, Fault> wait_for(codec::TcpFrame const& asked, SteadyTime deadline);
    std::optional<Fault> receive(SteadyTime deadline);
    Fault fault_at_deadline(std::optional<std::uint16_t> stray) const;
    void drop();

    TcpSettings settings_;
    std::unique_ptr<Channel> channel_;
    codec::TcpAssembler assembler_;
    std::vector<codec::TcpFrame> arrived_;
    std::uint16_t transaction_ = 0;
    std::uint16_t first_transaction_ = 0;  // of this connection
    bool connected_ = false;
    bool fresh_ = true;            // nothing was asked over this connection before
    std::size_t heard_bytes_ = 0;  // since this question was sent
    bool lost_step_ = false;       // the stream went wrong behind a whole frame
};

void TcpLine::drop() {
    channel_->close();
    connected_ = false;
    assembler_.clear();
    arrived_.clear();
    lost_step_ = false;
}

// Takes in what comes next. A fault other than the deadline's or a cancelled wait's costs the connection.
std::optional<Fault> TcpLine::receive(SteadyTime deadline) {
    auto const piece = channel_->receive(deadline);
    if (!piece) {
        if (piece.error().kind == FaultKind::cancelled) return piece.error();
        auto const detail = assembler_.held() > 0
                                ? fmt::format("{} bytes of an unfinished answer came", assembler_.held())
                                : std::string("not one byte of the answer came");
        drop();
        return fault(FaultKind::closed, detail);
    }
    if (piece->bytes.empty()) return fault(FaultKind::no_answer, {});
    heard_bytes_ += piece->bytes.size();
    auto result = assembler_.feed(piece->bytes);
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

std::expected<codec::Bytes, Fault> TcpLine::wait_for(codec::TcpFrame const& asked, SteadyTime deadline) {
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
        if (failed->kind == FaultKind::cancelled && assembler_.held() > 0) drop();
        if (failed->kind != FaultKind::no_answer) return std::unexpected(*failed);
        auto const silent = fault_at_deadline(stray);
        if (assembler_.held() > 0)
            drop();  // the rest of a frame may never come; what follows would be misread
        return std::unexpected(silent);
    }
}

std::expected<codec::Bytes, Fault> TcpLine::ask_once(std::uint8_t unit, codec::BytesView question,
                                                     SteadyTime latest) {
    if (!connected_) {
        if (auto const opened = channel_->open(); !opened) return std::unexpected(opened.error());
        assembler_.clear();
        first_transaction_ = static_cast<std::uint16_t>(transaction_ + 1);
        connected_ = true;
        fresh_ = true;
    }
    arrived_.clear();
    heard_bytes_ = 0;
    codec::TcpFrame const asked{
        .transaction = ++transaction_, .unit = unit, .pdu = codec::Bytes(question.begin(), question.end())};
    auto const deadline = std::min(Clock::now() + std::chrono::milliseconds(settings_.answer_timeout_ms), latest);
    if (auto const sent = channel_->send(codec::to_bytes(asked), deadline); !sent) {
        drop();  // half a frame may be on its way
        return std::unexpected(sent.error());
    }
    auto answer = wait_for(asked, deadline);
    fresh_ = false;
    if (lost_step_) drop();
    return answer;
}

std::expected<codec::Bytes, Fault> TcpLine::ask_as_often_as_allowed(std::uint8_t unit, codec::BytesView question) {
    auto const latest = settings_.budget_ms > 0 ? Clock::now() + std::chrono::milliseconds(settings_.budget_ms)
                                                : SteadyTime::max();
    Fault last;
    bool heard = false;
    int left = std::max(1, settings_.tries);
    bool stale_forgiven = false;
    while (left > 0) {
        bool const reused = connected_ && !fresh_;
        auto answer = ask_once(unit, question, latest);
        if (answer) return answer;
        last = answer.error();
        if (last.kind == FaultKind::cancelled) return answer;
        heard = heard || heard_bytes_ > 0;
        // A device may have closed a connection that stood idle: that is its right, and no failed try.
        bool const stale = reused && last.kind == FaultKind::closed && heard_bytes_ == 0;
        if (stale && !stale_forgiven) {
            stale_forgiven = true;
            continue;
        }
        --left;
        if (left > 0 && Clock::now() >= latest) {
            last.detail += fmt::format("; the {} ms that all tries together may take are over", settings_.budget_ms);
            break;
        }
    }
    if (!heard) drop();  // perhaps only half of the connection still lives
    return std::unexpected(last);
}

std::expected<codec::Bytes, Fault> TcpLine::ask(std::uint8_t unit, codec::BytesView question) {
    auto const with_place = [&](Fault broken) {
        broken.where = fmt::format("{} unit {}", place(), unit);
        return std::unexpected(std::move(broken));
    };
    if (question.empty() || question.size() > codec::max_pdu_bytes)
        return with_place(fault(FaultKind::bad_question, fmt::format("the question has {} bytes", question.size())));
    // Over TCP unit 0 is often the device itself; a gateway takes it for everybody on its line.
    if (unit == 0 && !codec::only_reads(question))
        return with_place(fault(FaultKind::bad_question, "unit 0 may be everybody behind a gateway; nothing is broadcast"));
    auto answer = ask_as_often_as_allowed(unit, question);
    if (!answer) return with_place(answer.error());
    return answer;
}

}  // namespace

std::unique_ptr<Line> tcp_line(TcpSettings settings) { return std::make_unique<TcpLine>(std::move(settings)); }

}  // namespace phasewright::port
