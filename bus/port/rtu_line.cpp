#include "bus/port/rtu_line.hpp"

#include <algorithm>
#include <map>
#include <utility>

#include <fmt/format.h>

#include "bus/codec/rtu_answer.hpp"

namespace phasewright::port {

namespace {
using codec::Fault;
using codec::FaultKind;
using Clock = std::chrono::steady_clock;
using Seconds = std::chrono::duration<double>;

// Adapters hand on what came in lumps of up to 16 ms (USB latency timers; common practice, no source), converters in TCP
// segments, and a busy machine looks late: a shorter silence between two lumps says nothing.
constexpr Seconds lump{0.050};
constexpr Seconds lump_over_tcp{0.200};
constexpr std::uint8_t last_unit = 247;        // MODBUS over Serial Line V1.02, clause 2.2
constexpr std::size_t shortest_frame = 4;      // fewer bytes are noise of the line's turn-round, and no answer has begun
constexpr std::size_t most_bytes_shown = 4096;
constexpr std::size_t most_bytes_overheard = 1U << 20U;  // a minute and a half of the fastest serial line

SteadyTime after(SteadyTime start, Seconds wait) { return start + std::chrono::duration_cast<Clock::duration>(wait); }

class RtuLine final : public Line {
public:
    RtuLine(std::unique_ptr<Channel> channel, RtuSettings settings)
        : channel_(std::move(channel)), settings_(std::move(settings)), hears_itself_(settings_.echoes) {}

    std::expected<codec::Bytes, Fault> ask(std::uint8_t unit, codec::BytesView question) override;
    std::string place() const override { return channel_->place(); }
    void cancel() noexcept override { channel_->cancel(); }
    void resume() noexcept override { channel_->resume(); }

private:
    struct Asked {
        codec::RtuFrame frame;
        codec::Question question;
        SteadyTime latest;           // all tries end by then
        int unanswered = 0;          // so many tries may still be answered
        SteadyTime first_left;       // when the first of those, and the last try, had left
        SteadyTime last_left;
    };
    // What a unit may still answer.
    struct Owed {
        Asked asked;
        SteadyTime until;
    };

    std::expected<codec::Bytes, Fault> ask_as_often_as_allowed(Asked& asked);
    std::expected<codec::Bytes, Fault> try_once(Asked& asked, Exchange& exchange);
    std::expected<codec::Bytes, Fault> wait_for_answer(Asked& asked, Exchange& exchange);
    std::optional<Fault> outlast_late_answers(Asked const& asked, codec::Bytes& before);
    std::optional<Fault> fall_silent(SteadyTime latest, Exchange& exchange);
    void remember(Asked const& asked, bool answered);
    Fault without_answer(codec::RtuSearch const& search, Exchange const& exchange) const;
    [[nodiscard]] Seconds answer_timeout() const { return Seconds(1e-3 * settings_.answer_timeout_ms); }

    std::unique_ptr<Channel> channel_;
    RtuSettings settings_;
    bool hears_itself_;
    std::optional<SteadyTime> busy_until_;  // when the last byte that we know of had passed
    std::map<std::uint8_t, Owed> owed_;     // by unit
};

void keep(codec::Bytes& bytes, codec::BytesView more) {
    codec::put_bytes(bytes, more.first(std::min(more.size(), most_bytes_shown - std::min(most_bytes_shown, bytes.size()))));
}

// Waits for the answers that a unit still owes, as long as they may come.
std::optional<Fault> RtuLine::outlast_late_answers(Asked const& asked, codec::Bytes& before) {
    auto const owing = owed_.find(asked.frame.unit);
    if (owing == owed_.end()) return std::nullopt;
    auto& [late, until] = owing->second;
    codec::Bytes came;
    while (late.unanswered > 0 && Clock::now() < until) {
        auto piece = channel_->receive(std::min(until, asked.latest));
        if (!piece) return piece.error();
        if (piece->bytes.empty() && Clock::now() < until)  // the budget's end, not the wait's
            return Fault{.kind = FaultKind::no_answer, .detail = "the unit still owes an answer to an earlier question"};
        if (piece->bytes.empty()) break;
        busy_until_ = piece->at;
        keep(before, piece->bytes);
        keep(came, piece->bytes);
        if (codec::find_answer(came, late.frame, late.question, false).state == codec::RtuSearch::State::waiting) continue;
        --late.unanswered;
        came.clear();
    }
    owed_.erase(owing);
    return std::nullopt;
}

// Waits until nothing has come for t3.5. What comes meanwhile belongs to no question of ours: a late answer, noise.
std::optional<Fault> RtuLine::fall_silent(SteadyTime latest, Exchange& exchange) {
    Seconds const silence{plan::silence_between_s(settings_.format)};
    if (!busy_until_) busy_until_ = Clock::now();  // nobody knows what passed before
    auto const patience = std::min(latest, after(Clock::now(), answer_timeout() + lump));
    std::size_t stray = 0;
    while (true) {
        auto const quiet = after(*busy_until_, silence);
        auto piece = channel_->receive(std::max(quiet, Clock::now()));
        if (!piece) return piece.error();
        if (piece->bytes.empty()) return std::nullopt;
        busy_until_ = piece->at;
        stray += piece->bytes.size();
        keep(exchange.before, piece->bytes);
        if (piece->at < patience) continue;
        exchange.heard = exchange.before;
        return Fault{.kind = FaultKind::line_in_use,
                     .detail = fmt::format("the line does not fall silent: {} bytes came that nobody here asked for", stray)};
    }
}

Fault RtuLine::without_answer(codec::RtuSearch const& search, Exchange const& exchange) const {
    if (search.instead) return *search.instead;
    auto const waited = fmt::format("within {} ms", settings_.answer_timeout_ms);
    if (exchange.echoed > 0)
        return {.kind = FaultKind::no_answer,
                .detail = "only the question itself came back " + waited + ": this adapter hears its own sending"};
    return {.kind = FaultKind::no_answer, .detail = "silence " + waited};
}

std::expected<codec::Bytes, Fault> RtuLine::wait_for_answer(Asked& asked, Exchange& exchange) {
    auto const left = asked.last_left;
    Seconds const silence{plan::silence_between_s(settings_.format)};
    Seconds const pause = std::max(channel_->format() ? lump : lump_over_tcp, silence);
    Seconds const longest{static_cast<double>(codec::max_rtu_frame_bytes) * plan::character_s(settings_.format)};
    auto const begin_by = std::min(after(left, answer_timeout()), asked.latest);
    auto const end_by = std::min(after(left, answer_timeout() + longest + pause), asked.latest);
    auto deadline = begin_by;
    codec::RtuSearch search;
    while (true) {
        auto piece = channel_->receive(deadline);
        if (!piece) {
            if (piece.error().kind == FaultKind::closed) --asked.unanswered;  // not on this connection, at least
            return std::unexpected(piece.error());
        }
        bool const begun = search.unexplained >= shortest_frame;
        if (piece->bytes.empty()) {
            if (begun) --asked.unanswered;  // it came, and was spoiled
            return std::unexpected(without_answer(search, exchange));
        }
        busy_until_ = std::max(*busy_until_, piece->at);
        codec::put_bytes(exchange.heard, piece->bytes);
        exchange.arrivals.push_back({Seconds(piece->at - left).count(), piece->bytes.size()});
        search = codec::find_answer(exchange.heard, asked.frame, asked.question, hears_itself_);
        exchange.echoed = search.echoed;
        hears_itself_ = hears_itself_ || search.echoed > 0;
        if (search.state == codec::RtuSearch::State::whole) return search.answer->pdu;
        if (search.state == codec::RtuSearch::State::hopeless) return std::unexpected(without_answer(search, exchange));
        // What has begun must go on. An echo, another's frame or a byte of noise is no beginning of an answer.
        deadline = search.unexplained >= shortest_frame ? std::min(after(piece->at, pause), end_by) : begin_by;
    }
}

std::expected<codec::Bytes, Fault> RtuLine::try_once(Asked& asked, Exchange& exchange) {
    if (auto opened = channel_->open(); !opened) return std::unexpected(opened.error());
    if (asked.unanswered == 0)
        if (auto const gone = outlast_late_answers(asked, exchange.before)) return std::unexpected(*gone);
    if (auto const noisy = fall_silent(asked.latest, exchange)) return std::unexpected(*noisy);
    exchange.sent = codec::to_bytes(asked.frame);
    auto const length = static_cast<double>(exchange.sent.size());
    Seconds const sending{length * plan::character_s(settings_.format)};
    auto sent = channel_->send(exchange.sent, after(Clock::now(), sending + answer_timeout()));
    asked.last_left = after(Clock::now(), sending);
    busy_until_ = asked.last_left;
    if (!sent) return std::unexpected(sent.error());
    if (asked.unanswered++ == 0) asked.first_left = asked.last_left;
    return wait_for_answer(asked, exchange);
}

// A try that was answered late shifts every later answer by one, unless the rest is waited for. How late this unit is,
// the answer tells that was taken: at most as late as if it had been meant for the first try.
void RtuLine::remember(Asked const& asked, bool answered) {
    if (asked.unanswered <= 0) return;
    auto const patience = answered ? 1.25 * Seconds(Clock::now() - asked.first_left) + lump : 2.0 * answer_timeout();
    owed_.insert_or_assign(asked.frame.unit, Owed{.asked = asked, .until = after(asked.last_left, patience)});
}

std::expected<codec::Bytes, Fault> RtuLine::ask_as_often_as_allowed(Asked& asked) {
    Fault last;
    bool stale_forgiven = false;
    for (int left = std::max(1, settings_.tries); left > 0; --left) {
        Exchange exchange{.unit = asked.frame.unit};
        auto answer = try_once(asked, exchange);
        if (answer) --asked.unanswered;
        if (!answer) exchange.fault = answer.error();
        if (settings_.listener) settings_.listener(exchange);
        if (answer) return answer;
        last = answer.error();
        if (last.kind == FaultKind::cancelled || last.kind == FaultKind::line_in_use) break;
        // A converter may have closed a connection that stood idle: that is its right, and no failed try.
        if (last.kind == FaultKind::closed && exchange.heard.empty() && !channel_->format() && !stale_forgiven) {
            stale_forgiven = true;
            ++left;
        }
        if (left > 1 && Clock::now() >= asked.latest) {
            last.detail += fmt::format("; the {} ms that all tries together may take are over", settings_.budget_ms);
            break;
        }
    }
    return std::unexpected(last);
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
    auto parsed = codec::parse_question(question);
    if (!parsed) return bad("no answer could be told from another's");
    auto const latest = settings_.budget_ms > 0 ? Clock::now() + std::chrono::milliseconds(settings_.budget_ms)
                                                : SteadyTime::max();
    Asked asked{.frame = {.unit = unit, .pdu = codec::Bytes(question.begin(), question.end())},
                .question = std::move(*parsed),
                .latest = latest,
                .first_left = {},
                .last_left = {}};
    auto answer = ask_as_often_as_allowed(asked);
    remember(asked, answer.has_value());
    if (!answer) return at_place(std::move(answer.error()));
    return answer;
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
        if (overheard.bytes.size() >= most_bytes_overheard || (until && until(overheard))) break;
    }
    return overheard;
}

}  // namespace phasewright::port
