#include "app/commands/bus_check_command.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>
#include <ostream>

#include <fmt/format.h>
#include <unistd.h>

#include "app/commands/bus_check_words.hpp"
#include "app/commands/exchange_lines.hpp"
#include "app/commands/interrupted.hpp"
#include "app/commands/plan_file.hpp"
#include "app/commands/plan_ports.hpp"
#include "app/commands/terminal_lines.hpp"
#include "app/commands/whole_file.hpp"
#include "bus/linefault/ask_line.hpp"
#include "bus/linefault/verdict.hpp"

namespace phasewright::commands {

namespace {
using quantity::Fault;

constexpr int judged = 0;
constexpr int not_judged = 2;

std::optional<double> number_of(std::string_view text) {
    double value = 0.0;
    if (text.starts_with('+')) text.remove_prefix(1);
    auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value)) return std::nullopt;
    return value;
}

std::expected<linefault::ByHand, Fault> by_hand_of(BusCheckOptions const& options) {
    linefault::ByHand by_hand;
    for (auto const& text : options.volts) {
        auto const equals = text.find('=');
        auto const volts = number_of(equals == std::string::npos ? text : text.substr(equals + 1));
        auto const position = equals == std::string::npos ? std::optional(0.0) : number_of(text.substr(0, equals));
        bool const good = volts && position && std::abs(*volts) <= 20.0 && *position >= 0.0 && *position <= 247.0 &&
                          *position == std::floor(*position);
        if (!good)
            return std::unexpected(Fault{"these are no idle volts", "--volts", text, "0.18 at the head, 9=-0.25 at position 9",
                                         "D1 minus D0, -20 to 20 V"});
        by_hand.idle.push_back({*volts, static_cast<int>(*position)});
    }
    if (options.ohms == "open") {
        by_hand.ohms = std::numeric_limits<double>::infinity();
    } else if (!options.ohms.empty()) {
        auto const ohms = number_of(options.ohms);
        if (!ohms || *ohms < 0.0)
            return std::unexpected(Fault{"these are no ohms", "--ohms", options.ohms, "a number, or open", ""});
        by_hand.ohms = ohms;
    }
    by_hand.common_v = options.common_v;
    return by_hand;
}

std::expected<plan::SerialLine, Fault> line_of(plan::Site const& site, BusCheckOptions const& options) {
    std::string known;
    for (auto const& line : site.serial_lines) known += (known.empty() ? "" : " ") + line.id;
    auto const at = std::find_if(site.serial_lines.begin(), site.serial_lines.end(), [&](plan::SerialLine const& line) {
        return line.id == options.line || (options.line.empty() && site.serial_lines.size() == 1);
    });
    if (at != site.serial_lines.end()) return *at;
    return std::unexpected(Fault{options.line.empty() ? "the plan has several serial lines, or none" : "the plan has no such serial line",
                                 options.plan_file.string() + " --line", options.line, known, "name one with --line"});
}

// Says on the error output how far the asking is.
class CheckProgress {
public:
    explicit CheckProgress(std::ostream& err) : err_(err), on_terminal_(isatty(STDERR_FILENO) != 0) {}
    void say(linefault::AskProgress const& step) {
        if (!on_terminal_ && step.unit > 0 && step.asked % 10 != 0) return;
        auto const text = step.unit == 0 ? fmt::format("listening, nothing is asked yet; at most {:.0f} s", step.left_s)
                                         : fmt::format("asking unit {}, {} of {}, about {:.0f} s left", step.unit,
                                                       step.asked + 1, step.of, step.left_s);
        err_ << (on_terminal_ ? "\r\x1b[K" + text : text + "\n") << std::flush;
    }
    void clear() {
        if (on_terminal_) err_ << "\r\x1b[K" << std::flush;
    }

private:
    std::ostream& err_;
    bool on_terminal_;
};

std::expected<RecordedLine, Fault> asked_now(plan::SerialLine const& line, linefault::Evidence const& evidence,
                                             BusCheckOptions const& options, std::ostream& err) {
    if (line.device.empty())
        return std::unexpected(Fault{"the plan does not say yet which device the line is on", line.id, {}, {},
                                     "name the ports file with --ports, or write device into the plan"});
    linefault::AskSettings settings{.format = line.format, .answer_timeout_ms = line.answer_timeout_ms, .units = {},
                                    .tries = options.tries, .listen_s = options.listen_s, .means = finder::real_means()};
    for (auto const& device : evidence.devices) settings.units.push_back(device.unit);
    auto const channel = port::serial_channel(line.device, line.format);
    finder::Stop stop;
    Interrupted const interrupted([&] { stop.request(); });
    CheckProgress progress(err);
    auto asked = linefault::ask_line(*channel, settings, stop, [&](auto const& step) { progress.say(step); });
    progress.clear();
    if (asked.fault)
        return std::unexpected(Fault{codec::to_finding(*asked.fault), line.id, {}, {}, "nothing is judged from half a check"});
    RecordedLine recorded;
    recorded.heard_before = false;
    for (auto& exchange : asked.exchanges) recorded.exchanges.push_back({std::move(exchange), false});
    return recorded;
}

std::expected<RecordedLine, Fault> recorded_in(std::filesystem::path const& file) {
    auto const text = text_of(file, "exchanges");
    if (!text) return std::unexpected(text.error());
    return read_exchanges(*text, file.string());
}

std::expected<void, Fault> take_in(RecordedLine const& recorded, double timeout_s, linefault::Evidence& evidence) {
    evidence.heard_before = recorded.heard_before;
    evidence.strangers = recorded.strangers;
    for (auto const& [exchange, other_format] : recorded.exchanges) {
        auto const at = std::find_if(evidence.devices.begin(), evidence.devices.end(),
                                     [&](linefault::Device const& device) { return device.unit == exchange.unit; });
        if (at == evidence.devices.end())
            return std::unexpected(Fault{"the exchanges hold a unit that is not planned on this line", "--recorded",
                                         std::to_string(exchange.unit), "units of the plan", "name the line that they are of"});
        auto const seen = linefault::seen_in(exchange, timeout_s);
        evidence.tries.push_back({.device = static_cast<std::size_t>(at - evidence.devices.begin()), .came = seen.came,
                                  .echoed = seen.echoed, .other_format = other_format});
    }
    return {};
}

std::expected<linefault::Verdict, Fault> judged_line(plan::Site const& site, plan::SerialLine const& line,
                                                     BusCheckOptions const& options, std::ostream& err) {
    linefault::Evidence evidence{.format = line.format, .length_m = line.length_m, .devices = {}};
    for (auto const& point : site.points)
        if (point.address.serial_line == line.id)
            evidence.devices.push_back({.unit = static_cast<std::uint8_t>(point.address.unit), .name = point.name,
                                        .position = point.address.position});
    std::stable_sort(evidence.devices.begin(), evidence.devices.end(),
                     [](auto const& a, auto const& b) { return a.position < b.position; });
    auto const by_hand = by_hand_of(options);
    if (!by_hand) return std::unexpected(by_hand.error());
    evidence.by_hand = *by_hand;
    auto const recorded = options.recorded_file ? recorded_in(*options.recorded_file) : asked_now(line, evidence, options, err);
    if (!recorded) return std::unexpected(recorded.error());
    if (options.save_file)
        if (auto const kept = write_whole(*options.save_file, exchanges_text(*recorded), "exchanges", "name another file with --save");
            !kept)
            return std::unexpected(kept.error());
    if (auto const taken = take_in(*recorded, 1e-3 * line.answer_timeout_ms, evidence); !taken)
        return std::unexpected(taken.error());
    return linefault::judge(evidence);
}
}  // namespace

int bus_check_command(BusCheckOptions const& options, std::ostream& out, std::ostream& err) {
    auto const refuse = [&](Fault const& fault) {
        err << "phasewright bus check: " << printable(quantity::to_sentence(fault)) << '\n';
        return not_judged;
    };
    auto const site = planned_site(options.plan_file, options.ports_file);
    if (!site) return refuse(site.error());
    auto const line = line_of(*site, options);
    if (!line) return refuse(line.error());
    auto const verdict = judged_line(*site, *line, options, err);
    if (!verdict) return refuse(verdict.error());
    out << (options.json ? check_json(*verdict, line->id) + "\n" : check_lines(*verdict, line->id, options.width));
    return judged;
}

}  // namespace phasewright::commands
