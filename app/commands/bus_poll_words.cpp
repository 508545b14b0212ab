// One event of the poller as a line: for people, or as JSON with the names of docs/reference/readings.md.
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "app/commands/bus_poll_command.hpp"
#include "app/commands/reading_line_writer.hpp"
#include "app/commands/terminal_lines.hpp"

namespace phasewright::commands {

namespace {

using nlohmann::ordered_json;

std::string time_of_day(std::string const& utc) { return utc.size() > 11 ? utc.substr(11) : utc; }

std::string column_words(char const* letter, readings::Column const& column, char const* format) {
    std::string text = fmt::format("  {}", letter);
    for (auto const& value : column)
        text += ' ' + (value ? fmt::format(fmt::runtime(format), *value) : std::string("-"));
    return column.empty() ? std::string{} : text;
}

std::optional<double> total_watts(readings::Snapshot const& snapshot) {
    if (snapshot.p_total) return snapshot.p_total;
    if (snapshot.p.empty()) return std::nullopt;
    double sum = 0.0;
    for (auto const& p : snapshot.p) {
        if (!p) return std::nullopt;
        sum += *p;
    }
    return sum;
}

std::string words(poller::Reading const& reading) {
    auto const& seen = reading.snapshot;
    std::string text = fmt::format("{}  {:<16}", time_of_day(reading.time), reading.point);
    text += column_words("V", seen.v.empty() ? seen.v_ll : seen.v, "{:.1f}");
    text += column_words("A", seen.i, "{:.2f}");
    if (auto const watts = total_watts(seen)) text += fmt::format("  kW {:.3f}", *watts / 1000.0);
    if (seen.hz) text += fmt::format("  Hz {:.2f}", *seen.hz);
    for (auto const& counter : reading.counters)
        if (counter.value && counter.phase == 0 && counter.unit == "Wh")
            text += fmt::format("  {} {:.3f} kWh", counter.name, *counter.value / 1000.0);
    return text;
}

std::string words(poller::Note const& note) {
    return fmt::format("{}  {:<16}  {}: {}", time_of_day(note.time),
                       note.point.empty() ? note.line : note.point, poller::name_of(note.kind), note.says);
}

std::string json(poller::Reading const& reading) {
    ordered_json object{{"event", "reading"},   {"line", reading.line}, {"point", reading.point},
                        {"time", reading.time}, {"at_s", reading.at_s}, {"took_s", reading.took_s}};
    object["snapshot"] = ordered_json::parse(json_of_snapshot(reading.snapshot));
    auto counters = ordered_json::object();
    for (auto const& counter : reading.counters)
        counters[counter.name] = counter.value ? ordered_json(*counter.value) : ordered_json(nullptr);
    if (!counters.empty()) object["counters"] = counters;
    return object.dump();
}

std::string json(poller::Note const& note) {
    ordered_json object{
        {"event", "note"}, {"kind", std::string(poller::name_of(note.kind))}, {"line", note.line}};
    if (!note.point.empty()) object["point"] = note.point;
    object["time"] = note.time;
    object["at_s"] = note.at_s;
    object["says"] = note.says;
    return object.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
}

}  // namespace

std::string words_of(poller::Event const& event) {
    return printable(std::visit([](auto const& one) { return words(one); }, event));
}
std::string json_of(poller::Event const& event) {
    return std::visit([](auto const& one) { return json(one); }, event);
}

}  // namespace phasewright::commands
