#include "app/commands/profile_check_command.hpp"

#include <algorithm>
#include <charconv>
#include <chrono>
#include <cmath>
#include <ostream>
#include <thread>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "app/commands/bus_round_command.hpp"
#include "app/commands/interrupted.hpp"
#include "app/commands/terminal_lines.hpp"
#include "bus/decoder/live_dump.hpp"
#include "bus/finder/serial_search.hpp"
#include "bus/port/rtu_line.hpp"
#include "bus/port/tcp_line.hpp"
#include "bus/profile/decode.hpp"
#include "core/quantity/text.hpp"
#include "core/quantity/three_phase.hpp"

namespace phasewright::commands {

namespace {

using profile::LintFinding;
using profile::LintSeverity;
using quantity::Fault;

constexpr int nothing_to_mend = 0;
constexpr int something_to_mend = 1;
constexpr int not_checked = 2;

bool holds(profile::RegisterImage const& image, plan::RegisterRun const& piece) {
    for (int at = 0; at < piece.count; ++at) {
        auto const address = static_cast<std::uint32_t>(piece.first + at);
        if (!profile::register_at(image, static_cast<codec::Function>(piece.function), address)) return false;
    }
    return true;
}

// Reads these registers and their neighbours, because a table may be off by one, around what the meter
// refuses. What it does not give becomes a finding; silence ends it.
std::optional<codec::Fault> take(port::Line& line, std::uint8_t unit, profile::Profile const& profile,
                                 std::vector<plan::RegisterRun> const& pieces, std::string const& what,
                                 profile::RegisterImage& image, std::vector<LintFinding>* findings) {
    plan::ReadLimits const limits{.longest_read = static_cast<int>(profile.longest_read),
                                  .bridge = static_cast<int>(profile.bridge)};
    std::vector<std::string> refused;
    for (auto const& run : plan::grouped(pieces, limits, plan::fewest_questions)) {
        int const from = std::max(0, run.first - 1);
        auto read = decoder::read_run(line, unit,
                                      {.function = static_cast<codec::Function>(run.function),
                                       .from = static_cast<std::uint16_t>(from),
                                       .count = static_cast<unsigned>(run.first + run.count + 1 - from),
                                       .longest = profile.longest_read});
        if (read.stopped) return read.stopped;
        for (auto const& [address, value] : read.image.holding) image.holding[address] = value;
        for (auto const& [address, value] : read.image.input) image.input[address] = value;
        if (!holds(image, run) && std::ranges::any_of(pieces, [&](auto const& piece) {
                return piece.function == run.function && piece.first >= run.first &&
                       piece.first < run.first + run.count && !holds(image, piece);
            }))
            refused.push_back(
                fmt::format("{} to {} (function {})", run.first, run.first + run.count - 1, run.function));
    }
    if (refused.empty() || findings == nullptr) return std::nullopt;
    findings->push_back({LintSeverity::mend,
                         fmt::format("the meter refuses some of registers {}, where {} are to stand",
                                     quantity::joined(refused, ", "), what),
                         "they do not exist, or are of the other of functions 3 and 4",
                         "compare base and function with the maker's table"});
    return std::nullopt;
}

void settings_without_words(profile::Profile const& profile, profile::RegisterImage const& image,
                            std::vector<LintFinding>& findings) {
    for (auto const& setting : profile.settings) {
        auto const pieces = profile::setting_registers(setting);
        bool const read = !pieces.empty() &&
                          std::ranges::all_of(pieces, [&](auto const& piece) { return holds(image, piece); });
        if (!read) continue;
        auto const name = profile::name_of(setting.name);
        auto const value = profile::setting_in(setting, image);
        if (!value) {
            findings.push_back(
                {LintSeverity::mend,
                 fmt::format("the meter holds something in settings.{} that the profile has no word for",
                             name),
                 "what it is set to is not understood",
                 "compare its address and its values with the maker's table"});
        } else if (setting.write && profile::not_allowed(setting, *value) &&
                   (!setting.values.empty() || setting.least)) {
            findings.push_back({LintSeverity::mind,
                                fmt::format("the meter is set to {}, which settings.{} does not allow",
                                            profile::words_of(setting.name, *value), name),
                                "either the address or the allowed values are wrong",
                                "compare them with the maker's table"});
        }
    }
}

void add_fit(decoder::ProfileFit const& fit, std::vector<LintFinding>& findings) {
    if (!fit.fits) {
        constexpr std::size_t most_told = 4;
        std::vector<std::string> told(
            fit.misfits.begin(),
            fit.misfits.begin() + static_cast<std::ptrdiff_t>(std::min(most_told, fit.misfits.size())));
        if (fit.misfits.size() > most_told)
            told.push_back(fmt::format("and {} more", fit.misfits.size() - most_told));
        auto const why = quantity::joined(told, "; ");
        auto const likely = std::ranges::find_if(
            fit.changes, [](auto const& change) { return change.kind != decoder::ChangeKind::none; });
        std::string remedy = "compare it with the maker's table";
        if (likely != fit.changes.end() && likely->probability > 0.1)
            remedy = fmt::format("{} ({:.1f} % sure){}", likely->in_words, 100.0 * likely->probability,
                                 likely->toml.empty() ? "" : ": " + likely->toml);
        findings.push_back({LintSeverity::mend, "the profile does not fit what the meter holds",
                            why.empty() ? "its numbers do not hang together" : why, remedy});
    }
    for (auto const& doubt : fit.doubts)
        findings.push_back({LintSeverity::mind, "one reading cannot tell everything", doubt,
                            "look again when that is known"});
}

std::expected<plan::Nominal, Fault> nominal_of(ProfileCheckOptions const& options) {
    auto const number = [](std::string_view text) -> std::optional<double> {
        double value = 0.0;
        auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
        bool const good =
            error == std::errc{} && end == text.data() + text.size() && value > 0.0 && value <= 1e6;
        return good ? std::optional(value) : std::nullopt;
    };
    auto const slash = options.nominal.find('/');
    auto const phase_v = number(std::string_view(options.nominal).substr(0, slash));
    auto const line_v = slash == std::string::npos
                            ? phase_v ? std::optional(quantity::line_from_phase_v(*phase_v)) : std::nullopt
                            : number(std::string_view(options.nominal).substr(slash + 1));
    if (!phase_v || !line_v)
        return std::unexpected(Fault{"the rated voltages are not known", "--nominal", options.nominal,
                                     "V_LN/V_LL as the meter is meant to show them: 230/400", ""});
    return plan::Nominal{.v_ln = *phase_v, .v_ll = *line_v, .hz = options.hz};
}

std::expected<std::unique_ptr<port::Line>, Fault> line_to(ProfileCheckOptions const& options,
                                                          std::ostream& err) {
    if (options.serial.empty()) {
        auto const colon = options.live.rfind(':');
        int port = 502;
        if (colon != std::string::npos) {
            auto const text = std::string_view(options.live).substr(colon + 1);
            auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), port);
            if (error != std::errc{} || end != text.data() + text.size() || port < 1 || port > 65535)
                return std::unexpected(
                    Fault{"this is no host and port", "--live", options.live, "HOST or HOST:PORT", ""});
        }
        return port::tcp_line(
            {.host = options.live.substr(0, colon), .port = static_cast<std::uint16_t>(port)});
    }
    auto const format = serial_format_of(options.format);
    if (!format)
        return std::unexpected(
            Fault{"the serial format is not known", "--format", options.format, "19200-8E1", ""});
    auto channel = port::serial_channel(options.serial, *format);
    err << fmt::format("listening on {} for {:.0f} s before anything is asked\n", printable(options.serial),
                       finder::least_listening_s)
        << std::flush;
    finder::Stop stop;
    Interrupted const interrupted([&] {
        stop.request();
        channel->cancel();
    });
    auto const heard = finder::listen_first(*channel, finder::least_listening_s, finder::real_means(), stop);
    if (heard.fault)
        return std::unexpected(Fault{codec::to_finding(*heard.fault), "--serial", "",
                                     "a line that nobody else asks on", "nothing was sent"});
    return port::rtu_line(std::move(channel),
                          {.format = *format, .answer_timeout_ms = options.answer_timeout_ms});
}

void say(std::string const& file, profile::Profile const& profile, std::vector<LintFinding> const& findings,
         bool live, bool json, std::ostream& out) {
    auto const mends = std::ranges::count(findings, LintSeverity::mend, &LintFinding::severity);
    if (json) {
        nlohmann::ordered_json object{{"profile", file}, {"name", profile.name}, {"live", live}};
        auto list = nlohmann::ordered_json::array();
        for (auto const& one : findings)
            list.push_back({{"severity", profile::name_of(one.severity)},
                            {"what", one.what},
                            {"why", one.why},
                            {"remedy", one.remedy}});
        object["findings"] = std::move(list);
        object["mend"] = mends;
        out << object.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << '\n';
        return;
    }
    out << printable(profile.name) << ", " << printable(file) << '\n';
    for (auto const& one : findings) {
        auto const text = fmt::format("{}: {}: {}. Try: {}.", profile::name_of(one.severity), one.what,
                                      one.why, one.remedy);
        bool first = true;
        for (auto const& line : wrapped(printable(text), 76)) {
            out << (first ? "  " : "        ") << line << '\n';
            first = false;
        }
    }
    if (findings.empty())
        out << "  Nothing to mend and nothing to mind.\n";
    else
        out << fmt::format("  {} to mend, {} to mind.\n", mends, std::ssize(findings) - mends);
    if (live) out << "  Read from a live meter; nothing was written.\n";
}

}  // namespace

std::expected<std::vector<LintFinding>, codec::Fault> live_findings(port::Line& line, std::uint8_t unit,
                                                                    profile::Profile const& profile,
                                                                    LiveCheck const& check) {
    std::vector<LintFinding> findings;
    std::vector<decoder::Dump> dumps;
    std::vector<plan::RegisterRun> settings;
    for (auto const& setting : profile.settings)
        for (auto const& piece : profile::setting_registers(setting)) settings.push_back(piece);
    profile::RegisterImage settings_image;
    if (auto fault = take(line, unit, profile, settings, "settings", settings_image, &findings))
        return std::unexpected(*fault);
    settings_without_words(profile, settings_image, findings);
    for (int time = 0; time < check.times; ++time) {
        if (time > 0) std::this_thread::sleep_for(std::chrono::duration<double>(check.every_s));
        decoder::Dump dump;
        dump.time_s = line.now_s();
        auto* const told = time == 0 ? &findings : nullptr;
        if (auto fault = take(line, unit, profile, profile::measured_registers(profile), "measurements",
                              dump.image, told))
            return std::unexpected(*fault);
        if (auto fault =
                take(line, unit, profile, profile::energy_registers(profile), "energies", dump.image, told))
            return std::unexpected(*fault);
        dumps.push_back(std::move(dump));
    }
    double const begun = *dumps.front().time_s;
    for (auto& dump : dumps) dump.time_s = *dump.time_s - begun;
    auto const phases = profile.measurements.at(profile::Measure::v).size();
    add_fit(decoder::fit_of(profile, dumps, {.nominal = check.nominal, .phases = phases, .current_a = {}}),
            findings);
    return findings;
}

int profile_check_command(ProfileCheckOptions const& options, std::ostream& out, std::ostream& err) {
    auto const refuse = [&](Fault const& fault) {
        err << "phasewright profile check: " << printable(quantity::to_sentence(fault)) << '\n';
        return not_checked;
    };
    auto const profile = profile::read_profile_file(options.profile_file);
    if (!profile) return refuse(profile.error());
    auto findings = profile::lint(*profile);
    bool const live = !options.live.empty() || !options.serial.empty();
    if (live) {
        auto const nominal = nominal_of(options);
        if (!nominal) return refuse(nominal.error());
        auto const line = line_to(options, err);
        if (!line) return refuse(line.error());
        auto more = live_findings(**line, static_cast<std::uint8_t>(options.unit), *profile,
                                  {.nominal = *nominal, .times = options.times, .every_s = options.every_s});
        if (!more)
            return refuse({codec::to_finding(more.error()), "", "", "",
                           "what the file alone tells is said without --live"});
        findings.insert(findings.end(), more->begin(), more->end());
        std::ranges::stable_sort(findings, {}, &LintFinding::severity);
    }
    say(options.profile_file, *profile, findings, live, options.json, out);
    bool const mend =
        std::ranges::any_of(findings, [](auto const& one) { return one.severity == LintSeverity::mend; });
    return mend ? something_to_mend : nothing_to_mend;
}

}  // namespace phasewright::commands
