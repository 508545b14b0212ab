#include "bus/port/rtu_line.hpp"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

#include "bus/codec/rtu_answer.hpp"

namespace phasewright::port {

namespace {
using codec::Fault;
using codec::FaultKind;
using Clock = std::chrono::steady_clock;
using Seconds = std::chrono::duration<double>;

// Adapters hand on what came in lumps of up to 16 ms (USB latency timers; common practice, no source), so a silence
// between two lumps shorter than this says nothing.
constexpr Seconds lump{0.030};
constexpr std::uint8_t last_unit = 247;  // MODBUS over Serial Line V1.02, clause 2.2

SteadyTime after(SteadyTime start, Seconds wait) { return start + std::chrono::duration_cast<Clock::duration>(wait); }

class RtuLine final : public Line {
public:
    RtuLine(std::unique_ptr<Channel> channel, RtuSettings settings)
        : channel_(std::move(channel)), settings_(std::move(settings)) {}

    std::expected<codec::Bytes, Fault> ask(std::uint8_t unit, codec::BytesView question) override;
    std::string place() const override { return channel_->place(); }
    void cancel() noexcept override { channel_->cancel(); }
    void resume() noexcept override { channel_->resume(); }

private:
    std::optional<Fault> fall_silent(Exchange& exchange);
    std::optional<Fault> outlast_late_answer(codec::RtuFrame const& asked);
    std::expected<codec::Bytes, Fault> try_once(codec::RtuFrame const& asked, codec::Question const& question,
                                                Exchange& exchange);
    Fault without_answer(codec::RtuSearch const& search, Exchange const& exchange) const;

    std::unique_ptr<Channel> channel_;
    RtuSettings settings_;
    SteadyTime busy_until_{};  // when the last byte that we know of had passed
    // A question that nobody answered in time may yet be answered, and nothing in an answer says to which question it
    // belongs. Another question to that unit waits so long first; the same question may be repeated at once.
    struct Unanswered {
        codec::RtuFrame asked;
        SteadyTime until;
    };
    std::optional<Unanswered> unanswered_;
};

// Waits until nothing has come for t3.5. What comes meanwhile belongs to no question of ours: a late answer, noise.
std::optional<Fault> RtuLine::fall_silent(Exchange& exchange) {
    Seconds const silence{plan::silence_between_s(settings_.format)};
    auto const patience = after(Clock::now(), Seconds(1e-3 * settings_.answer_timeout_ms) + lump);
    std::size_t stray = 0;
    while (true) {
        auto const quiet = after(busy_until_, silence);
        auto piece = channel_->receive(std::max(quiet, Clock::now()));
        if (!piece) return piece.error();
        if (piece->bytes.empty()) return std::nullopt;
        busy_until_ = piece->at;
        stray += piece->bytes.size();
        if (piece->at < patience) continue;
        exchange.heard = std::move(piece->bytes);
        return Fault{.kind = FaultKind::line_in_use,
                     .detail = fmt::format("the line does not fall silent: {} bytes came that nobody here asked for", stray)};
    }
}

std::optional<Fault> RtuLine::outlast_late_answer(codec::RtuFrame const& asked) {
    if (!unanswered_) return std::nullopt;
    bool const could_be_mistaken = unanswered_->asked.unit == asked.unit && unanswered_->asked != asked;
    while (could_be_mistaken && Clock::now() < unanswered_->until) {
        auto piece = channel_->receive(unanswered_->until);
        if (!piece) return piece.error();
        if (piece->bytes.empty()) break;
        busy_until_ = piece->at;
        unanswered_->until = std::min(unanswered_->until, after(piece->at, lump));  // that was it
    }
    unanswered_.reset();
    return std::nullopt;
}

Fault RtuLine::without_answer(codec::RtuSearch const& search, Exchange const& exchange) const {
    if (search.instead) return *search.instead;
    auto const waited = fmt::format("within {} ms", settings_.answer_timeout_ms);
    if (exchange.echoed > 0)
        return {.kind = FaultKind::no_answer,
                .detail = "only the question itself came back " + waited + ": this adapter hears its own sending"};
    return {.kind = FaultKind::no_answer, .detail = "silence " + waited};
}

std::expected<codec::Bytes, Fault> RtuLine::try_once(codec::RtuFrame const& asked, codec::Question const& question,
                                                     Exchange& exchange) {
    if (auto opened = channel_->open(); !opened) return std::unexpected(opened.error());
    if (auto const gone = outlast_late_answer(asked)) return std::unexpected(*gone);
    if (auto const noisy = fall_silent(exchange)) return std::unexpected(*noisy);
    exchange.sent = codec::to_bytes(asked);
    Seconds const character{plan::character_s(settings_.format)};
    Seconds const answer_timeout{1e-3 * settings_.answer_timeout_ms};
    auto const length = static_cast<double>(exchange.sent.size());
    auto const left = after(Clock::now(), length * character);
    if (auto sent = channel_->send(exchange.sent, after(left, answer_timeout)); !sent) return std::unexpected(sent.error());
    busy_until_ = left;

    Seconds const pause = std::max(lump, Seconds(plan::silence_between_s(settings_.format)));
    auto deadline = after(left, answer_timeout);
    codec::RtuSearch search;
    while (true) {
        auto piece = channel_->receive(deadline);
        if (!piece) return std::unexpected(piece.error());
        if (piece->bytes.empty()) {
            if (exchange.heard.size() <= search.echoed) unanswered_ = {asked, after(Clock::now(), answer_timeout)};
            return std::unexpected(without_answer(search, exchange));
        }
        busy_until_ = std::max(busy_until_, piece->at);
        codec::put_bytes(exchange.heard, piece->bytes);
        exchange.arrivals.push_back({Seconds(piece->at - left).count(), piece->bytes.size()});
        search = codec::find_answer(exchange.heard, asked, question, settings_.echoes);
        exchange.echoed = search.echoed;
        if (search.state == codec::RtuSearch::State::whole) return search.answer->pdu;
        if (search.state == codec::RtuSearch::State::hopeless) return std::unexpected(without_answer(search, exchange));
        // What has begun must go on; an echo, though, is no beginning of an answer.
        bool const begun = exchange.heard.size() > search.echoed;
        auto const rest = Seconds(static_cast<double>(codec::max_rtu_frame_bytes) * character);
        if (begun) deadline = std::min(after(piece->at, pause), after(left, answer_timeout + rest));
    }
}

std::expected<codec::Bytes, Fault> RtuLine::ask(std::uint8_t unit, codec::BytesView question) {
    auto const at_place = [&](Fault fault) {
        fault.where = fmt::format("{} unit {}", place(), unit);
        return std::unexpected(std::move(fault));
    };
    auto const bad = [&](std::string detail) {
        return at_place({.kind = FaultKind::bad_question, .detail = std::move(detail)});
    };
    if (unit == 0) return bad("unit 0 is everybody at once, and nothing is ever broadcast");
    if (unit > last_unit) return bad("units 248 to 255 are reserved on a serial line");
    auto const parsed = codec::parse_question(question);
    if (!parsed) return bad("no answer could be told from another's");
    codec::RtuFrame const asked{.unit = unit, .pdu = codec::Bytes(question.begin(), question.end())};
    auto const began = Clock::now();
    Fault last;
    for (int left = std::max(1, settings_.tries); left > 0; --left) {
        Exchange exchange{.unit = unit};
        auto answer = try_once(asked, *parsed, exchange);
        if (!answer) exchange.fault = answer.error();
        if (settings_.listener) settings_.listener(exchange);
        if (answer) return answer;
        last = answer.error();
        if (last.kind == FaultKind::cancelled || last.kind == FaultKind::line_in_use) break;
        bool const over = settings_.budget_ms > 0 && Clock::now() - began >= std::chrono::milliseconds(settings_.budget_ms);
        if (over) break;
    }
    return at_place(std::move(last));
}
}  // namespace

std::unique_ptr<Line> rtu_line(std::unique_ptr<Channel> channel, RtuSettings settings) {
    return std::make_unique<RtuLine>(std::move(channel), std::move(settings));
}

std::expected<Overheard, Fault> listen(Channel& channel, double seconds,
                                       std::function<bool(Overheard const&)> const& until) {
    if (auto opened = channel.open(); !opened) return std::unexpected(opened.error());
    auto const began = Clock::now();
    auto const end = after(began, Seconds(seconds));
    Overheard overheard;
    while (Clock::now() < end) {
        auto piece = channel.receive(end);
        if (!piece) return std::unexpected(piece.error());
        if (piece->bytes.empty()) break;
        overheard.arrivals.push_back({Seconds(piece->at - began).count(), piece->bytes.size()});
        codec::put_bytes(overheard.bytes, piece->bytes);
        if (until && until(overheard)) break;
    }
    return overheard;
}

}  // namespace phasewright::port
