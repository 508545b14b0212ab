#include "app/commands/bus_find_command.hpp"

#include <algorithm>
#include <charconv>
#include <chrono>
#include <ostream>
#include <thread>

#include <fmt/format.h>
#include <unistd.h>

#include "app/commands/bus_find_words.hpp"
#include "app/commands/bus_round_command.hpp"
#include "app/commands/interrupted.hpp"
#include "app/commands/terminal_lines.hpp"
#include "bus/finder/serial_search.hpp"
#include "bus/port/tcp_line.hpp"

namespace phasewright::commands {

namespace {
using finder::Found;
using finder::SearchProgress;
using quantity::Fault;

constexpr int done = 0;
constexpr int not_all_done = 2;

std::string time_text(double seconds) {
    if (seconds < 90.0) return fmt::format("{:.0f} s", std::max(0.0, seconds));
    return fmt::format("{:.0f} min", std::max(0.0, seconds) / 60.0);
}

// Says on the error output how far the search is: rewritten in place on a terminal, else a line every five seconds.
class FindProgress {
public:
    explicit FindProgress(std::ostream& err) : err_(err), on_terminal_(isatty(STDERR_FILENO) != 0) {}

    void say(SearchProgress const& step) {
        std::scoped_lock const lock(mutex_);
        auto const now = std::chrono::steady_clock::now();
        if (now - last_ < std::chrono::milliseconds(on_terminal_ ? 200 : 5000)) return;
        last_ = now;
        auto text = step.place + " " + step.doing;
        if (!step.format.empty()) text += " " + step.format;
        if (step.unit > 0) text += fmt::format(" unit {}", step.unit);
        text += fmt::format("  {} found", step.found);
        if (step.doing != "listening") text += ", at most " + time_text(step.left_s) + " left";
        text = printable(text);
        if (text.size() > 79) text.resize(79);
        err_ << (on_terminal_ ? "\r\x1b[K" + text : text + "\n") << std::flush;
        shown_ = on_terminal_;
    }
    void clear() {
        std::scoped_lock const lock(mutex_);
        if (shown_) err_ << "\r\x1b[K" << std::flush;
        shown_ = false;
    }

private:
    std::ostream& err_;
    bool on_terminal_;
    bool shown_ = false;
    std::mutex mutex_;
    std::chrono::steady_clock::time_point last_;
};

std::expected<std::pair<std::uint8_t, std::uint8_t>, Fault> units_of(std::string const& text) {
    auto const refuse = [&] {
        return std::unexpected(Fault{"this is no range of units", "--units", text, "1-247, 12, 1-32", "units are 1 to 247"});
    };
    auto const dash = text.find('-');
    auto const number = [](std::string_view part) -> int {
        int value = 0;
        auto const [end, error] = std::from_chars(part.data(), part.data() + part.size(), value);
        return error == std::errc{} && end == part.data() + part.size() ? value : 0;
    };
    int const first = number(std::string_view(text).substr(0, dash));
    int const last = dash == std::string::npos ? first : number(std::string_view(text).substr(dash + 1));
    if (first < 1 || last > 247 || last < first) return refuse();
    return std::pair{static_cast<std::uint8_t>(first), static_cast<std::uint8_t>(last)};
}

std::expected<finder::SearchSettings, Fault> settings_of(BusFindOptions const& options) {
    finder::SearchSettings settings;
    auto const units = units_of(options.units);
    if (!units) return std::unexpected(units.error());
    settings.first = units->first;
    settings.last = units->second;
    settings.all_formats = options.all_formats;
    settings.quick_wait_ms = options.wait_ms;
    if (options.format.empty()) return settings;
    auto const format = serial_format_of(options.format);
    if (!format)
        return std::unexpected(Fault{"this is no format", "--format", options.format, "19200-8E1, 9600-8N1",
                                     "speed, 8, parity as E, O or N, stop bits"});
    settings.formats = {*format};
    return settings;
}

finder::SearchSettings settings_for(FindTarget const& target, finder::SearchSettings settings, bool one_format) {
    for (auto const& point : target.planned) settings.planned.push_back(static_cast<std::uint8_t>(point.address.unit));
    if (!target.format || one_format) return settings;
    std::erase(settings.formats, *target.format);
    settings.formats.insert(settings.formats.begin(), *target.format);
    return settings;
}

struct Searched {
    FindTarget target;
    std::vector<Found> found;
};

void search(Searched& one, BusFindOptions const& options, finder::SearchSettings const& base, finder::Stop& stop,
            finder::ProgressListener const& progress) {
    auto const settings = settings_for(one.target, base, !options.format.empty());
    if (one.target.kind == FindTarget::Kind::serial) {
        auto const channel = port::serial_channel(one.target.device, settings.formats.front());
        one.found.push_back(finder::find_on_serial(
            *channel, {.search = settings, .listen_s = options.listen_s, .means = finder::real_means()}, stop, progress));
    } else if (one.target.kind == FindTarget::Kind::gateway) {
        auto gateway = settings;
        gateway.quick_wait_ms = gateway.patient_wait_ms = options.gateway_wait_ms;
        auto const line = finder::real_tcp_lines(options.gateway_wait_ms)(one.target.places.front());
        one.found.push_back(finder::find_behind_gateway(*line, {.search = gateway}, stop, progress));
    } else {
        finder::HostSearch hosts{.places = one.target.places};
        for (auto const& point : one.target.planned) {
            auto const unit = static_cast<std::uint8_t>(point.address.unit);
            std::erase(hosts.units, unit);
            hosts.units.insert(hosts.units.begin(), unit);
        }
        one.found = finder::find_hosts(hosts, finder::real_tcp_lines(1000), stop, progress);
    }
    for (auto& found : one.found) found.line = one.target.line;
}

// A host of a list that nothing answers at is one of many: they are said together.
bool is_silent_host(FindTarget const& target, Found const& found) {
    return target.kind == FindTarget::Kind::hosts && target.planned.empty() && found.devices.empty() && !found.cancelled();
}

void print(Searched const& one, BusFindOptions const& options, std::ostream& out) {
    std::size_t silent = 0;
    for (auto const& found : one.found) {
        if (options.json) {
            out << found_json(found, one.target) << '\n';
        } else if (is_silent_host(one.target, found)) {
            ++silent;
        } else {
            out << found_lines(found, one.target, options.width) << '\n';
        }
    }
    if (silent > 0) out << fmt::format("{} of {} hosts did not answer\n", silent, one.found.size());
}
}  // namespace

int bus_find_command(BusFindOptions const& options, std::ostream& out, std::ostream& err) {
    auto const refuse = [&](Fault const& fault) {
        err << "phasewright bus find: " << printable(quantity::to_sentence(fault)) << '\n';
        return not_all_done;
    };
    auto const targets = find_targets(options);
    if (!targets) return refuse(targets.error());
    auto const settings = settings_of(options);
    if (!settings) return refuse(settings.error());

    finder::Stop stop;
    Interrupted const interrupted([&] { stop.request(); });
    FindProgress progress(err);
    std::vector<Searched> all;
    for (auto const& target : *targets) all.push_back({.target = target, .found = {}});
    std::vector<std::thread> threads;
    for (auto& one : all)
        threads.emplace_back([&] { search(one, options, *settings, stop, [&](SearchProgress const& step) { progress.say(step); }); });
    for (auto& thread : threads) thread.join();
    progress.clear();

    bool failed = false;
    for (auto const& one : all) {
        print(one, options, out);
        for (auto const& found : one.found)
            failed = failed || (found.fault && !is_silent_host(one.target, found));
    }
    if (stop.requested()) err << "phasewright bus find: ended before all was searched\n";
    return failed ? not_all_done : done;
}

}  // namespace phasewright::commands
