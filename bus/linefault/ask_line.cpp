#include "bus/linefault/ask_line.hpp"

#include <algorithm>

namespace phasewright::linefault {

namespace {
using codec::FaultKind;

// A second device at the address answers a little after the first: how long is listened for it. Adapters hand on what
// came in lumps of up to 16 ms; common practice, no source.
constexpr double second_answer_s = 0.06;
constexpr std::uint16_t sunspec_serial = 40052;  // model 1 at 40002, its serial number 50 registers on
constexpr std::uint16_t serial_registers = 16;

codec::Question question_of(int round) {
    if (round % 3 == 0) return codec::ReadRegisters{};
    if (round % 3 == 1) return codec::ReadRegisters{.address = sunspec_serial, .count = serial_registers};
    return codec::ReadIdentification{};
}

bool ends_it(std::optional<codec::Fault> const& fault) {
    return fault && (fault->kind == FaultKind::cancelled || fault->kind == FaultKind::closed ||
                     fault->kind == FaultKind::unreachable);
}

bool hears_itself(port::Exchange const& exchange) {
    return exchange.echoed > 0 || (!exchange.sent.empty() && exchange.heard.size() >= exchange.sent.size() &&
                                   std::equal(exchange.sent.begin(), exchange.sent.end(), exchange.heard.begin()));
}

class Asker {
public:
    Asker(port::Channel& channel, AskSettings const& settings) : channel_(channel), settings_(settings) {}

    // One try; what follows the answer belongs to it.
    port::Exchange ask(std::uint8_t unit, int round) {
        if (!line_) open();
        exchange_ = port::Exchange{.unit = unit};
        auto const question = codec::question_pdu(question_of(round));
        auto const answer = line_->ask(unit, *question);
        if (!answer && !exchange_.fault) exchange_.fault = answer.error();
        if (!exchange_.heard.empty() && !ends_it(exchange_.fault))
            if (auto const more = settings_.means.listen(channel_, second_answer_s); more && !more->bytes.empty()) {
                auto const before_s = exchange_.arrivals.empty() ? 0.0 : exchange_.arrivals.back().after_s;
                for (auto const& arrival : more->arrivals)
                    exchange_.arrivals.push_back({before_s + arrival.after_s, arrival.bytes});
                codec::put_bytes(exchange_.heard, more->bytes);
            }
        if (!echoes_ && hears_itself(exchange_)) {
            echoes_ = true;
            line_.reset();
        }
        return exchange_;
    }
    [[nodiscard]] double now_s() {
        if (!line_) open();
        return line_->now_s();
    }

private:
    void open() {
        port::RtuSettings settings;
        settings.format = settings_.format;
        settings.answer_timeout_ms = settings_.answer_timeout_ms * 3 / 2;
        settings.tries = 1;
        settings.echoes = echoes_;
        settings.listener = [this](port::Exchange const& exchange) { exchange_ = exchange; };
        line_ = settings_.means.line(finder::borrowed(channel_), settings);
    }

    port::Channel& channel_;
    AskSettings const& settings_;
    std::unique_ptr<port::Line> line_;
    port::Exchange exchange_;
    bool echoes_ = false;
};
}  // namespace

AskedLine ask_line(port::Channel& channel, AskSettings const& settings, finder::Stop& stop,
                   std::function<void(AskProgress const&)> const& progress) {
    AskedLine asked;
    finder::Stop::Hold const hold(stop, [&] { channel.cancel(); });
    std::size_t const all = settings.units.size() * static_cast<std::size_t>(settings.tries);
    auto const silent_s = 1.5e-3 * settings.answer_timeout_ms;
    if (progress) progress({.unit = 0, .asked = 0, .of = all, .left_s = settings.listen_s + silent_s * static_cast<double>(all)});
    auto const listening = finder::listen_first(channel, settings.listen_s, settings.means, stop);
    asked.heard = listening.heard;
    asked.fault = listening.fault;
    if (asked.fault) return asked;
    Asker asker(channel, settings);
    double const began_s = asker.now_s();
    for (int round = 0; round < settings.tries; ++round)
        for (auto const unit : settings.units) {
            auto const done = asked.exchanges.size();
            double const each_s = done == 0 ? silent_s : (asker.now_s() - began_s) / static_cast<double>(done);
            if (progress)
                progress({.unit = unit, .asked = done, .of = all, .left_s = each_s * static_cast<double>(all - done)});
            auto exchange = asker.ask(unit, round);
            if (ends_it(exchange.fault)) {
                asked.fault = exchange.fault;
                return asked;
            }
            asked.exchanges.push_back(std::move(exchange));
        }
    return asked;
}

}  // namespace phasewright::linefault
