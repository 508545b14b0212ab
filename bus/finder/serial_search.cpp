#include "bus/finder/serial_search.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "bus/codec/rtu_frame.hpp"

namespace phasewright::finder {

namespace {
using codec::Fault;
using codec::FaultKind;
using plan::SerialFormat;

// A second device at the address answers a little after the first: how long is listened for it. Adapters hand on what
// came in lumps of up to 16 ms; common practice, no source.
constexpr double second_answer_s = 0.06;
constexpr int identify_wait_ms = 1000;  // the specification's second (MODBUS over Serial Line V1.02, 2.4.1)

bool is_over(Fault const& fault) {
    return fault.kind == FaultKind::cancelled || fault.kind == FaultKind::closed ||
           fault.kind == FaultKind::unreachable || fault.kind == FaultKind::line_in_use;
}

bool hears_itself(port::Exchange const& exchange) {
    if (exchange.echoed > 0) return true;
    return exchange.heard.size() >= exchange.sent.size() && !exchange.sent.empty() &&
           std::equal(exchange.sent.begin(), exchange.sent.end(), exchange.heard.begin());
}

class SerialSearcher {
public:
    SerialSearcher(port::Channel& channel, SerialSearch const& search, Stop& stop, ProgressListener const& progress)
        : channel_(channel), search_(search), stop_(stop), progress_(progress), plan_(search.search) {}

    Found run() {
        found_.place = channel_.place();
        Stop::Hold const hold(stop_, [this] { channel_.cancel(); });
        say("listening", {}, 0);
        auto const listening = listen_first(channel_, search_.listen_s, search_.means, stop_);
        found_.heard = listening.heard;
        found_.fault = listening.fault;
        if (!found_.fault) ask_all();
        if (!found_.fault || found_.fault->kind == FaultKind::cancelled) take_hits();
        if (!found_.fault) identify_all();
        found_.asked = plan_.asked();
        return found_;
    }

private:
    void say(std::string doing, std::string format, int unit) {
        if (!progress_) return;
        progress_({.place = found_.place, .doing = std::move(doing), .format = std::move(format), .unit = unit,
                   .asked = plan_.asked(), .left = plan_.left(), .found = plan_.hits().size(),
                   .left_s = plan_.time_left_s()});
    }

    // A line in this format with this wait; kept for the next question when both are the same.
    std::expected<port::Line*, Fault> line_for(SerialFormat const& format, int wait_ms) {
        if (line_ && format == format_ && wait_ms == wait_ms_ && echoes_ == found_.echoes) return line_.get();
        line_.reset();
        if (channel_.format() && *channel_.format() != format)
            if (auto const set = channel_.set_format(format); !set) return std::unexpected(set.error());
        port::RtuSettings settings;
        settings.format = format;
        settings.answer_timeout_ms = wait_ms;
        settings.tries = 1;
        settings.echoes = found_.echoes;
        settings.listener = [this](port::Exchange const& exchange) { last_ = exchange; };
        line_ = search_.means.line(borrowed(channel_), settings);
        format_ = format;
        wait_ms_ = wait_ms;
        echoes_ = found_.echoes;
        return line_.get();
    }

    ProbeOutcome outcome_of(std::expected<codec::Registers, Fault> const& answer, std::uint8_t unit) const {
        if (answer) return {.came = Came::answer};
        switch (answer.error().kind) {
            case FaultKind::refused:
            case FaultKind::malformed: return {.came = Came::answer};
            case FaultKind::garbled: return {.came = Came::garbage};
            case FaultKind::wrong_unit: {
                auto const rest = codec::BytesView(last_.heard).subspan(std::min(last_.echoed, last_.heard.size()));
                auto const who = rest.empty() ? std::uint8_t{0} : codec::u8_at(rest, 0);
                if (who == 0 || who > 247 || who == unit) return {.came = Came::garbage};
                return {.came = Came::other_unit, .answering = who};
            }
            default: break;
        }
        return {.came = last_.heard.size() > last_.echoed ? Came::garbage : Came::nothing};
    }

    void ask_all() {
        while (auto const probe = plan_.next()) {
            say("asking", plan::words_of(probe->format), probe->unit);
            auto const line = line_for(probe->format, probe->wait_ms);
            if (!line) {
                if (line.error().kind != FaultKind::not_offered) {
                    found_.fault = line.error();
                    return;
                }
                note_once(fmt::format("{} was not tried: the port does not offer it", plan::words_of(probe->format)));
                plan_.heard({.came = Came::nothing, .took_s = 0.0});
                continue;
            }
            last_ = {};
            double const began_s = (*line)->now_s();
            auto const answer =
                port::read_registers(**line, probe->unit, codec::Function::read_holding_registers, 0, 1);
            if (!answer && is_over(answer.error())) {
                found_.fault = answer.error();
                return;
            }
            if (!found_.echoes && hears_itself(last_)) {
                found_.echoes = true;  // the same probe again, with the echo taken off
                continue;
            }
            auto outcome = outcome_of(answer, probe->unit);
            outcome.took_s = (*line)->now_s() - began_s;
            found_.took_s += outcome.took_s;
            plan_.heard(outcome);
            if (outcome.came == Came::answer) listen_for_a_second(*probe);
        }
    }

    // One answer was whole; another behind it is of a second device.
    void listen_for_a_second(Probe const& probe) {
        auto const more = search_.means.listen(channel_, second_answer_s);
        if (!more || more->bytes.empty()) return;
        found_.doubtful.push_back({.unit = probe.unit, .format = probe.format});
        found_.notes.push_back(fmt::format("unit {} answered, and more bytes came behind the answer: two devices may share "
                                           "this address", probe.unit));
    }

    void note_once(std::string const& note) {
        if (std::find(found_.notes.begin(), found_.notes.end(), note) == found_.notes.end()) found_.notes.push_back(note);
    }

    void take_hits() {
        for (auto const& hit : plan_.hits())
            found_.devices.push_back({.unit = hit.unit, .format = hit.format, .answered_s = hit.took_s, .identity = {}});
        for (auto const& one : plan_.doubtful()) {
            bool const answered = std::any_of(plan_.hits().begin(), plan_.hits().end(), [&](Hit const& hit) {
                return hit.unit == one.unit && hit.format != one.format;
            });
            bool const noted = std::any_of(found_.doubtful.begin(), found_.doubtful.end(),
                                           [&](DoubtfulUnit const& known) { return known.unit == one.unit; });
            if (!answered && !noted) found_.doubtful.push_back({.unit = one.unit, .format = one.format});
        }
        std::stable_sort(found_.devices.begin(), found_.devices.end(),
                         [](auto const& a, auto const& b) { return a.unit < b.unit; });
    }

    void identify_all() {
        for (auto& device : found_.devices) {
            say("identifying", plan::words_of(*device.format), device.unit);
            auto const line = line_for(*device.format, identify_wait_ms);
            auto const told = line ? identify(**line, device.unit) : std::expected<Identity, Fault>(std::unexpected(line.error()));
            if (told) {
                device.identity = *told;
                device.asked_who = true;
                continue;
            }
            found_.fault = told.error();
            return;
        }
    }

    port::Channel& channel_;
    SerialSearch const& search_;
    Stop& stop_;
    ProgressListener const& progress_;
    SearchPlan plan_;
    Found found_;
    std::unique_ptr<port::Line> line_;
    SerialFormat format_;
    int wait_ms_ = 0;
    bool echoes_ = false;
    port::Exchange last_;
};
}  // namespace

Found find_on_serial(port::Channel& channel, SerialSearch const& search, Stop& stop, ProgressListener const& progress) {
    return SerialSearcher(channel, search, stop, progress).run();
}

}  // namespace phasewright::finder
