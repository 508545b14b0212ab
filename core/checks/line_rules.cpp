// One serial line as an electrical thing: TIA-485 drives 32 unit loads over 1000 m and more, between two
// terminators, with one bias and a common wire. A pair is joined by what a voltmeter says while the line is
// idle (D1 is positive), never by the letter that is printed beside a terminal.
#include <algorithm>
#include <array>
#include <set>

#include "core/checks/notes.hpp"
#include "core/checks/rule.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::checks {
namespace {
using plan::BusRole;

Place at_line(OnLine const& on) { return {PlaceKind::line, on.line->id}; }
plan::MeterBus const* bus_of(AtPoint const& at) {
    auto const* const hardware = at.hardware();
    return hardware == nullptr || !hardware->bus ? nullptr : &*hardware->bus;
}

template <class Value>
bool lacks(std::vector<Value> const& can, Value wanted) {
    return !can.empty() && std::ranges::find(can, wanted) == can.end();
}

void look_at_format(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.lines)
        for (auto const* at : on.meters) {
            auto const* const bus = bus_of(*at);
            if (bus == nullptr) continue;
            auto const& format = on.line->format;
            std::vector<std::string> cannot;
            if (lacks(bus->bit_rates, format.bit_rate))
                cannot.push_back(std::to_string(format.bit_rate) + " bit/s");
            if (lacks(bus->parities, format.parity))
                cannot.push_back("parity " + std::string(plan::name_of(format.parity)));
            if (lacks(bus->stop_bits, format.stop_bits))
                cannot.push_back(std::to_string(format.stop_bits) + " stop bits");
            if (cannot.empty()) continue;
            notes.add({.places = {at_point(*at), at_line(on)},
                       .what = "the line runs at " + plan::words_of(format) + ", and " +
                               at->point->meter_profile + " cannot be set to " + named(cannot)});
        }
}

void look_at_stop_bits(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.lines)
        if (plan::bits_of_character(on.line->format) != static_cast<int>(notes.limit()))
            notes.add({.places = {at_line(on)},
                       .what = plan::words_of(on.line->format) + " has " +
                               std::to_string(plan::bits_of_character(on.line->format)) + " bits a character",
                       .value = plan::bits_of_character(on.line->format),
                       .limit = notes.limit()});
}

constexpr double loads_of_bias = 4.0;

void look_at_loads(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.lines) {
        double meters = 0.0;
        std::size_t assumed = 0;
        for (auto const* at : on.meters) {
            auto const* const bus = bus_of(*at);
            if (bus == nullptr || !bus->unit_load) ++assumed;
            meters += bus == nullptr ? 1.0 : bus->unit_load.value_or(1.0);
        }
        double const bias = on.line->bias_at ? loads_of_bias : 0.0;
        double const sum = 1.0 + meters + bias;
        if (sum <= notes.limit()) continue;
        notes.add(
            {.places = {at_line(on)},
             .what = "the head, " + std::to_string(on.meters.size()) + " meters" +
                     (bias > 0.0 ? " and the bias" : "") + " make " + figure(sum) + " unit loads" +
                     (assumed > 0 ? " (" + std::to_string(assumed) + " meters counted as one each, not said)"
                                  : ""),
             .value = sum,
             .limit = notes.limit()});
    }
}

void look_at_devices(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.lines) {
        AtPoint const* fewest = nullptr;
        for (auto const* at : on.meters) {
            auto const* const bus = bus_of(*at);
            if (bus != nullptr && bus->most_devices &&
                (fewest == nullptr || *bus->most_devices < *bus_of(*fewest)->most_devices))
                fewest = at;
        }
        if (fewest == nullptr || static_cast<int>(on.meters.size()) <= *bus_of(*fewest)->most_devices)
            continue;
        notes.add({.places = {at_line(on), at_point(*fewest)},
                   .what = std::to_string(on.meters.size()) + " meters on the line; " +
                           fewest->point->meter_profile + " is documented for " +
                           std::to_string(*bus_of(*fewest)->most_devices),
                   .value = static_cast<double>(on.meters.size()),
                   .limit = bus_of(*fewest)->most_devices,
                   .unit = "meters"});
    }
}

double length_of(OnLine const& on) {
    double along = 0.0;
    for (auto const* at : on.meters) along += at->point->address.distance_m.value_or(0.0);
    return std::max(along, on.line->length_m);
}

void look_at_length(Ground const& ground, Notes& notes) {
    constexpr double slow_bits =
        1e5;  // above it length times speed is what counts: 1e8 m bit/s, common practice
    for (auto const& on : ground.lines) {
        double const length = length_of(on);
        bool const fast = on.line->format.bit_rate > slow_bits;
        double const most = fast ? notes.limit() * slow_bits / on.line->format.bit_rate : notes.limit();
        if (length <= most) continue;
        notes.add({.places = {at_line(on)},
                   .what = figure(length) + " m at " + std::to_string(on.line->format.bit_rate) + " bit/s",
                   .value = length,
                   .limit = most,
                   .source = fast ? std::optional(RuleSource{"common practice", "", "length times speed",
                                                             plan::Footing::practice})
                                  : std::nullopt});
    }
}

void look_at_drops(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.lines)
        for (auto const* at : on.meters) {
            auto const drop = at->point->address.drop_m;
            if (!drop || *drop <= notes.limit()) continue;
            notes.add({.places = {at_point(*at), at_line(on)},
                       .what = "drop of " + figure(*drop) + " m from the trunk",
                       .value = drop,
                       .limit = notes.limit()});
        }
}

std::string position_words(int position, OnLine const& on) {
    if (position == 0) return "the head";
    for (auto const* at : on.meters)
        if (at->point->address.position == position)
            return "position " + std::to_string(position) + " (" + at->point->id + ")";
    return "position " + std::to_string(position);
}

void look_at_terminators(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.lines) {
        if (!on.line->terminators) continue;
        auto const& places = *on.line->terminators;
        int const last = on.last_position();
        std::vector<std::string> wrong;
        for (int const place : places)
            if (place != 0 && last > 0 && place != last)
                wrong.push_back("one at " + position_words(place, on) + " stands within the line");
        auto const lacks_one_at = [&](int place) { return std::ranges::find(places, place) == places.end(); };
        if (lacks_one_at(0)) wrong.emplace_back("none at the head");
        if (last > 0 && lacks_one_at(last))
            wrong.push_back("none at the far end, " + position_words(last, on));
        if (wrong.empty() && places.size() == static_cast<std::size_t>(notes.limit())) continue;
        if (wrong.empty() && last == 0 && places.size() < static_cast<std::size_t>(notes.limit())) continue;
        notes.add({.places = {at_line(on)},
                   .what = std::to_string(places.size()) +
                           (places.size() == 1 ? " terminator: " : " terminators: ") + named(wrong),
                   .value = static_cast<double>(places.size()),
                   .limit = notes.limit()});
    }
}

void look_at_bias(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.lines) {
        if (!on.line->bias_at || *on.line->bias_at == 0) continue;
        int const place = *on.line->bias_at;
        bool const there = std::ranges::any_of(
            on.meters, [&](auto const* at) { return at->point->address.position == place; });
        if (!there)
            notes.add({.places = {at_line(on)},
                       .what = "the pair is to be biased at position " + std::to_string(place) +
                               ", where no meter stands"});
    }
}

void look_at_what_is_open(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.lines) {
        if (on.meters.empty()) continue;
        std::vector<std::string> open;
        if (!on.line->terminators) open.emplace_back("where its terminators are (both ends, nowhere else)");
        if (!on.line->bias_at) open.emplace_back("where it is biased (one place)");
        if (on.line->length_m <= 0.0 && length_of(on) <= 0.0) open.emplace_back("its length");
        if (on.line->cable.empty()) open.emplace_back("its cable (a pair, a common, a screen)");
        std::vector<std::string> placeless;
        for (auto const* at : on.meters)
            if (at->point->address.position == 0) placeless.push_back(at->point->id);
        if (!placeless.empty()) open.push_back("the place along it of " + named(placeless));
        if (!open.empty())
            notes.add({.places = {at_line(on)}, .what = "the plan does not say of the line " + named(open)});
    }
}

void look_at_common(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.lines) {
        std::vector<std::string> without;
        for (auto const* at : on.meters) {
            auto const* const hardware = at->hardware();
            if (hardware == nullptr || hardware->bus_terminals.empty()) continue;
            if (std::ranges::find(hardware->bus_terminals, BusRole::common, &plan::BusTerminal::role) ==
                hardware->bus_terminals.end())
                without.push_back(at->point->id);
        }
        if (!without.empty())
            notes.add(
                {.places = {at_line(on)}, .what = "no terminal for the common wire at " + named(without)});
        if (!on.line->cable.empty() && on.line->cable.find("common") == std::string::npos &&
            on.line->cable.find("three") == std::string::npos)
            notes.add({.places = {at_line(on)},
                       .what = "the cable is described without a common wire: \"" + on.line->cable + "\"",
                       .severity = Severity::mind});
    }
}

std::string printed_at(plan::MeterHardware const& hardware, BusRole role) {
    auto const found = std::ranges::find(hardware.bus_terminals, role, &plan::BusTerminal::role);
    return found == hardware.bus_terminals.end() ? std::string{} : found->printed;
}
// What is printed beside the positive terminal: the plan's word for this meter, else its profile's.
std::string printed_positive(AtPoint const& at) {
    if (at.point->address.labels) return at.point->address.labels->d1;
    auto const* const hardware = at.hardware();
    return hardware == nullptr ? std::string{} : printed_at(*hardware, BusRole::d1);
}
std::string printed_negative(AtPoint const& at) {
    if (at.point->address.labels) return at.point->address.labels->d0;
    auto const* const hardware = at.hardware();
    return hardware == nullptr ? std::string{} : printed_at(*hardware, BusRole::d0);
}

// The trap: a letter that is positive on one device is negative on another of the same line.
void look_at_labels(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.lines) {
        std::set<std::string> positive;
        std::set<std::string> negative;
        if (on.line->labels) {
            positive.insert(on.line->labels->d1);
            negative.insert(on.line->labels->d0);
        }
        for (auto const* at : on.meters) {
            positive.insert(printed_positive(*at));
            negative.insert(printed_negative(*at));
        }
        std::vector<std::string> traps;
        for (auto const& letter : positive) {
            if (letter.empty() || !negative.contains(letter)) continue;
            std::vector<std::string> as_positive;
            if (on.line->labels && on.line->labels->d1 == letter) as_positive.emplace_back("the head");
            for (auto const* at : on.meters)
                if (printed_positive(*at) == letter) as_positive.push_back(at->point->id);
            traps.push_back("\"" + letter + "\" at " + named(as_positive));
        }
        if (traps.empty()) continue;
        notes.add(
            {.places = {at_line(on)},
             .what =
                 "the positive terminal is printed " + quantity::joined(traps, " and ") +
                 ", and what is positive at one is negative at another: joined by letter the pair crosses"});
    }
}

void look_at_plan_and_profile(Ground const& ground, Notes& notes) {
    for (auto const& on : ground.lines)
        for (auto const* at : on.meters) {
            auto const* const hardware = at->hardware();
            auto const& labels = at->point->address.labels;
            if (hardware == nullptr || !labels) continue;
            auto const d1 = printed_at(*hardware, BusRole::d1);
            auto const d0 = printed_at(*hardware, BusRole::d0);
            if (d1.empty() || d0.empty() || labels->d1 != d0 || labels->d0 != d1) continue;
            notes.add({.places = {at_point(*at), at_line(on)},
                       .what = "the plan calls its positive terminal \"" + labels->d1 +
                               "\", and by its profile \"" + d1 + "\" is positive"});
        }
}

constexpr auto serial = "MODBUS over Serial Line";

constexpr std::array rules{
    Rule{.id = "line.format",
         .title = "a meter cannot be set to the line's speed, parity or stop bits",
         .source = {"the meter's profile", "", "bus", plan::Footing::seen},
         .remedy = "another format for the whole line, or another line for this meter",
         .look = look_at_format},
    Rule{
        .id = "line.character",
        .title = "the line's character is not the specification's",
        .severity = Severity::mind,
        .limit =
            RuleLimit{11.0, "bits", "a character: start, 8 data, parity, stop; without parity two stop bits"},
        .source = {serial, "V1.02", "2.5.1", plan::Footing::seen},
        .remedy = "even parity and one stop bit, or no parity and two; where devices have neither, all alike",
        .look = look_at_stop_bits},
    Rule{.id = "line.unit-loads",
         .title = "the line has too many unit loads",
         .limit =
             RuleLimit{32.0, "unit loads", "on one pair, the bias counting as 4 and the head as 1, at most"},
         .source = {"TIA-485 and MODBUS over Serial Line", "V1.02", "3.4.1, 3.4.6", plan::Footing::seen},
         .remedy = "a repeater, a second line, or meters with an eighth of a unit load",
         .look = look_at_loads},
    Rule{.id = "line.devices",
         .title = "more meters hang on the line than one of them is documented for",
         .source = {"the meter's profile", "", "bus", plan::Footing::seen},
         .remedy = "a second line",
         .look = look_at_devices},
    Rule{.id = "line.length",
         .title = "the line is too long for its speed",
         .limit = RuleLimit{1000.0, "m",
                            "of trunk up to 100 kbit/s; above, length times speed 1e8 m bit/s; at most"},
         .source = {serial, "V1.02", "3.4.3", plan::Footing::seen},
         .remedy = "a repeater, a second line, or a lower speed",
         .look = look_at_length},
    Rule{.id = "line.drop",
         .title = "a drop from the trunk is long",
         .limit = RuleLimit{20.0, "m", "of one drop, at most"},
         .source = {serial, "V1.02", "3.4.3", plan::Footing::seen},
         .remedy = "lead the trunk through the meter: in and out",
         .look = look_at_drops},
    Rule{.id = "line.terminators",
         .title = "the terminators are not at both ends and nowhere else",
         .limit = RuleLimit{2.0, "terminators", "one at each end"},
         .source = {serial, "V1.02", "3.4.5", plan::Footing::seen},
         .remedy = "one at the head, one at the last meter, none between and none on a drop",
         .look = look_at_terminators},
    Rule{.id = "line.bias",
         .title = "the pair is to be biased where nothing stands",
         .source = {serial, "V1.02", "3.4.6", plan::Footing::seen},
         .remedy = "bias at one place, best at the head",
         .look = look_at_bias},
    Rule{.id = "line.common",
         .title = "the common wire is missing",
         .source = {serial, "V1.02", "3.3.2, 3.4.4", plan::Footing::seen},
         .remedy = "a third wire for the common, earthed at one point only",
         .look = look_at_common},
    Rule{.id = "line.letters",
         .title = "devices on one line print the letters of the pair the other way round",
         .severity = Severity::mind,
         .source = {serial, "V1.02", "3.3.2: D1 is positive while the line is idle", plan::Footing::seen},
         .remedy = "join the pair by measured polarity, not by letter: with the line biased and idle, what "
                   "measures positive is D1",
         .look = look_at_labels},
    Rule{.id = "line.labels",
         .title = "plan and profile disagree about which terminal is positive",
         .source = {"the meter's profile", "", "terminals", plan::Footing::seen},
         .remedy = "measure it with the line biased and idle, and correct the one that is wrong",
         .look = look_at_plan_and_profile},
    Rule{.id = "line.not-said",
         .title = "the plan does not say what a line is judged by",
         .severity = Severity::mind,
         .source = {"derived", "", "unknown data are asked for, not guessed", plan::Footing::derived},
         .remedy = "say it in the plan",
         .look = look_at_what_is_open},
};
}  // namespace

std::span<Rule const> line_rules() { return rules; }

}  // namespace phasewright::checks
