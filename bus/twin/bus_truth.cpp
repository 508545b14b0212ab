#include "bus/twin/bus_truth.hpp"

#include <algorithm>
#include <array>

#include "bus/profile/measure_words.hpp"
#include "bus/tables/table.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::twin {

namespace {
using tables::Range;
using tables::Table;

constexpr Range milliseconds{0.0, 60'000.0};
constexpr Range turns{0.0, 1000.0};
constexpr Range ohms{1.0, 100'000.0};

Pair read_pair(Table const& table, Pair pair) {
    table.only({"terminators", "terminator_ohm", "capacitors", "bias", "bias_at", "bias_ohm",
                "crossed_behind", "broken_behind", "broken", "common", "adapter", "unit_loads"});
    Range const places{0.0, static_cast<double>(pair.positions)};
    double const ohm = table.number("terminator_ohm", ohms).value_or(120.0);
    bool const capacitor = table.flag("capacitors").value_or(false);
    if (table.has("terminators")) {
        pair.terminators.clear();
        for (auto const at : table.wholes("terminators", places))
            pair.terminators.push_back({static_cast<int>(at)});
    }
    for (auto& one : pair.terminators) {
        one.ohm = ohm;
        one.capacitor = capacitor;
    }
    if (table.word("bias", {"one place", "none"}) == "none") pair.bias.reset();
    if (pair.bias) {
        pair.bias->at = static_cast<int>(table.whole("bias_at", places).value_or(0));
        pair.bias->ohm = table.number("bias_ohm", ohms).value_or(pair.bias->ohm);
    }
    if (auto const at = table.whole("crossed_behind", places)) pair.crossed_behind = static_cast<int>(*at);
    if (auto const at = table.whole("broken_behind", places)) pair.broken_behind = static_cast<int>(*at);
    pair.one_conductor_broken = table.word("broken", {"both conductors", "one conductor"}) == "one conductor";
    if (pair.one_conductor_broken && !pair.broken_behind)
        table.refuse("broken", "it is not said where the conductor is broken", "broken_behind beside it");
    pair.common = table.word("common", {"there", "missing"}) != "missing";
    pair.adapter_echoes = table.word("adapter", {"silent", "hears itself"}) == "hears itself";
    pair.unit_loads = table.number("unit_loads", {0.0, 1.0}).value_or(pair.unit_loads);
    return pair;
}

int count_of(Table const& table, std::string_view field) {
    return static_cast<int>(table.whole(field, turns).value_or(0));
}
double seconds_of(Table const& table, std::string_view field, double usual_s) {
    return 1e-3 * table.number(field, milliseconds).value_or(1e3 * usual_s);
}

std::optional<profile::Measure> measure_of(std::string_view name) {
    for (auto const& words : profile::all_measures())
        if (words.name == name) return words.measure;
    return std::nullopt;
}

RegisterTwist read_twist(Table const& table) {
    table.only({"words", "offset", "energies", "not_measured", "unavailable"});
    RegisterTwist twist;
    twist.words_swapped = table.word("words", {"as in the profile", "swapped"}) == "swapped";
    twist.offset = static_cast<int>(table.whole("offset", {-1000.0, 1000.0}).value_or(0));
    twist.energies_in_base_unit = table.word("energies", {"as in the profile", "Wh"}) == "Wh";
    for (auto const& name : table.texts("not_measured"))
        if (auto const measure = measure_of(name))
            twist.not_measured.push_back(*measure);
        else
            table.refuse("not_measured", "there is no such measurement",
                         "v, v_ll, i, p, q, hz, p_total, pf_total, ...");
    if (auto const raw = table.whole("unavailable", {0.0, 65535.0}))
        twist.unavailable = static_cast<std::uint16_t>(*raw);
    return twist;
}

CounterTruth read_counters(Table const& table) {
    table.only({"import_wh", "zero_at_read"});
    CounterTruth counters;
    counters.import_wh = table.number("import_wh", {0.0, 1e15});
    counters.zero_at_read = count_of(table, "zero_at_read");
    return counters;
}

std::optional<plan::SerialFormat> read_format(Table const& table, plan::SerialFormat format) {
    if (auto const rate = table.whole("bit_rate", {300.0, 1'000'000.0}))
        format.bit_rate = static_cast<int>(*rate);
    if (auto const parity = table.word("parity", {"even", "odd", "none"})) {
        format.parity = *plan::parity_of(*parity);
        format.stop_bits = format.parity == plan::Parity::none ? 2 : 1;
    }
    if (auto const bits = table.whole("stop_bits", {1.0, 2.0})) format.stop_bits = static_cast<int>(*bits);
    if (table.has("bit_rate") || table.has("parity") || table.has("stop_bits")) return format;
    return std::nullopt;
}

// What only a meter on a serial line can be, and what only one with a profile of its own.
constexpr std::array serial_fields{"bit_rate",         "parity",          "stop_bits",    "answer_delay_ms",
                                   "answer_jitter_ms", "wrong_crc_every", "gap_inside_ms"};
void refuse_what_it_cannot_be(Table const& table, plan::MeteringPoint const& point) {
    if (point.address.serial_line.empty())
        for (auto const* field : serial_fields)
            if (table.has(field))
                table.refuse(field, "the point is not on a serial line",
                             "late_every, busy_every, truncated_every");
    if (point.meter_profile == "sunspec" && table.has("registers"))
        table.refuse("registers", "a SunSpec meter says itself how its registers are laid out",
                     "a point with another profile");
}

MeterTruth read_meter(Table const& table, plan::MeteringPoint const& point,
                      plan::SerialFormat const& format) {
    table.only({"id", "unit", "bit_rate", "parity", "stop_bits", "answer_delay_ms", "answer_jitter_ms",
                "late_every", "late_ms", "wrong_crc_every", "truncated_every", "busy_every", "gap_inside_ms",
                "registers", "counters", "programmed", "settings"});
    refuse_what_it_cannot_be(table, point);
    MeterTruth truth;
    if (auto const unit = table.whole("unit", {1.0, 247.0})) truth.unit = static_cast<int>(*unit);
    truth.format = read_format(table, format);
    auto& manners = truth.manners;
    manners.answer_delay_s = seconds_of(table, "answer_delay_ms", manners.answer_delay_s);
    manners.answer_jitter_s = seconds_of(table, "answer_jitter_ms", manners.answer_jitter_s);
    manners.late_every = count_of(table, "late_every");
    manners.late_s = seconds_of(table, "late_ms", manners.late_s);
    manners.wrong_crc_every = count_of(table, "wrong_crc_every");
    manners.truncated_every = count_of(table, "truncated_every");
    manners.busy_every = count_of(table, "busy_every");
    manners.gap_inside_s = seconds_of(table, "gap_inside_ms", 0.0);
    if (auto const registers = table.table("registers")) truth.twist = read_twist(*registers);
    if (auto const counters = table.table("counters")) truth.counters = read_counters(*counters);
    auto const pair = table.numbers("programmed", 2, {0.0, 100'000.0, true});
    if (pair.size() == 2) truth.programmed = quantity::TransformerRatio{pair[0], pair[1]};
    truth.writable = table.word("settings", {"may be written", "locked"}) != "locked";
    return truth;
}

// The id of the table is one of the plan's; else it is refused.
template <class Entries>
auto const* planned(Table const& table, std::string_view field, std::string const& id, Entries const& entries,
                    std::string const& kind) {
    auto const found = std::ranges::find_if(entries, [&](auto const& entry) { return entry.id == id; });
    if (found != entries.end()) return &*found;
    std::vector<std::string> ids;
    for (auto const& entry : entries) ids.push_back(entry.id);
    table.refuse(field, "the plan has no such " + kind,
                 ids.empty() ? "none is in the plan" : quantity::joined(ids, ", "));
    return static_cast<decltype(&*found)>(nullptr);
}

std::optional<plan::SerialFormat> format_of(plan::Site const& site, plan::MeteringPoint const& point) {
    for (auto const& line : site.serial_lines)
        if (line.id == point.address.serial_line) return line.format;
    return std::nullopt;
}
}  // namespace

MeterTruth truth_of(BusTruth const& bus, plan::Site const& site, plan::MeteringPoint const& point) {
    auto const told = bus.meters.find(point.id);
    auto truth = told == bus.meters.end() ? MeterTruth{} : told->second;
    if (!truth.format) truth.format = format_of(site, point);
    return truth;
}

std::vector<plan::MeteringPoint const*> along(plan::Site const& site, std::string const& line) {
    std::vector<plan::MeteringPoint const*> points;
    for (auto const& point : site.points)
        if (point.address.serial_line == line) points.push_back(&point);
    std::ranges::stable_sort(points, {}, [](auto const* point) { return point->address.position; });
    return points;
}

BusTruth as_planned_bus(plan::Site const& site) {
    BusTruth truth;
    for (auto const& line : site.serial_lines) {
        auto const points = along(site, line.id);
        int positions = static_cast<int>(points.size());
        if (!points.empty()) positions = std::max(positions, points.back()->address.position);
        truth.lines.emplace(line.id, healthy_pair(line.length_m, positions));
    }
    return truth;
}

std::expected<BusTruth, quantity::Fault> read_bus(std::string_view text, std::string const& file,
                                                  plan::Site const& site) {
    auto const root = Table::parse(text, file);
    if (!root) return std::unexpected(root.error());
    root->only({"line", "meter"});
    auto truth = as_planned_bus(site);
    if (auto const lines = root->table("line"))
        for (auto const& id : lines->fields())
            if (planned(*lines, id, id, site.serial_lines, "serial line") != nullptr)
                if (auto const table = lines->table(id)) truth.lines[id] = read_pair(*table, truth.lines[id]);
    for (auto const& table : root->tables("meter")) {
        auto const id = table.needed_text("id");
        auto const* const point = planned(table, "id", id, site.points, "point");
        if (point == nullptr) break;
        auto const format = format_of(site, *point).value_or(plan::SerialFormat{});
        if (!truth.meters.emplace(id, read_meter(table, *point, format)).second)
            table.refuse("id", "the point has been told before", "one table for each");
    }
    if (root->fault()) return std::unexpected(*root->fault());
    return truth;
}

}  // namespace phasewright::twin
