// Before the first question: is anybody else at work on this line?
#include <algorithm>

#include <fmt/format.h>

#include "bus/finder/serial_search.hpp"

namespace phasewright::finder {

namespace {
using codec::Fault;
using codec::FaultKind;
using plan::SerialFormat;

constexpr std::size_t lone_bytes = 2;        // what a plug makes when it goes in; common practice, no source
constexpr double other_speed_listen_s = 2.0;  // twice the second that a usual poll leaves between questions

class Borrowed final : public port::Channel {
public:
    explicit Borrowed(port::Channel& lender) : lender_(lender) {}
    std::expected<void, Fault> open() override { return lender_.open(); }
    void close() override { lender_.close(); }
    std::expected<void, Fault> send(codec::BytesView bytes, port::SteadyTime deadline) override {
        return lender_.send(bytes, deadline);
    }
    std::expected<port::Piece, Fault> receive(port::SteadyTime deadline) override { return lender_.receive(deadline); }
    void discard_input() override { lender_.discard_input(); }
    std::optional<SerialFormat> format() const override { return lender_.format(); }
    std::expected<void, Fault> set_format(SerialFormat const& format) override { return lender_.set_format(format); }
    void cancel() noexcept override { lender_.cancel(); }
    void resume() noexcept override { lender_.resume(); }
    std::string place() const override { return lender_.place(); }

private:
    port::Channel& lender_;
};

std::string format_words(port::Channel const& channel) {
    auto const format = channel.format();
    return format ? plan::words_of(*format) : std::string();
}

Fault in_use(port::Channel const& channel, std::string detail) {
    return {.kind = FaultKind::line_in_use, .detail = std::move(detail), .exception = std::nullopt, .where = channel.place()};
}

// Bytes came that make no frame as the port is set: listens on in the other usual formats, to say more. Whatever goes
// wrong here changes nothing: the line is in use.
std::optional<std::pair<Heard, std::string>> understood_elsewhere(port::Channel& channel, SerialMeans const& means,
                                                                  Stop const& stop) {
    auto const own = channel.format();
    if (!own) return std::nullopt;
    std::optional<std::pair<Heard, std::string>> best;
    for (auto const& format : usual_formats()) {
        if (format == *own || stop.requested() || !channel.set_format(format)) continue;
        auto const overheard = means.listen(channel, other_speed_listen_s);
        if (!overheard) break;
        auto const heard = decoded(*overheard, other_speed_listen_s);
        if (heard.frames.empty()) continue;
        best = {heard, plan::words_of(format)};
        break;
    }
    if (!channel.set_format(*own)) channel.close();  // opened anew it has its own again
    return best;
}
}  // namespace

std::unique_ptr<port::Channel> borrowed(port::Channel& channel) { return std::make_unique<Borrowed>(channel); }

Listening listen_first(port::Channel& channel, double listen_s, SerialMeans const& means, Stop const& stop) {
    auto const could_not = [&](Fault fault) -> Listening {
        if (fault.where.empty()) fault.where = channel.place();
        return {.heard = std::nullopt, .fault = std::move(fault)};
    };
    if (auto const opened = channel.open(); !opened) return could_not(opened.error());
    double const seconds = std::max(listen_s, least_listening_s);
    auto overheard = means.listen(channel, seconds);
    if (overheard && !overheard->bytes.empty() && overheard->bytes.size() <= lone_bytes)
        overheard = means.listen(channel, seconds);
    if (!overheard) return could_not(overheard.error());
    if (overheard->bytes.empty()) return {};
    auto const heard = decoded(*overheard, seconds);
    auto detail = words_of(heard, format_words(channel));
    if (heard.frames.empty())
        if (auto const elsewhere = understood_elsewhere(channel, means, stop)) {
            detail += "; listening at " + elsewhere->second + ": " + words_of(elsewhere->first, elsewhere->second);
            return {.heard = elsewhere->first, .fault = in_use(channel, detail)};
        }
    return {.heard = heard, .fault = in_use(channel, detail)};
}

}  // namespace phasewright::finder
