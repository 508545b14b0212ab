// Columns, left to right as the signal flows: conductors, CTs on them, fuses or block, meter. Rows, top to
// bottom as the energy flows: source, breaker, taps, CTs, load. The meter's terminals set the rows, and
// everything that leads to a terminal stands in its row: no lead of the plan has a bend but where something
// is linked.
#include <algorithm>

#include "core/quantity/text.hpp"
#include "print/drawing/drafting.hpp"
#include "print/drawing/page.hpp"

namespace phasewright::drawing {

using namespace place;
using report::Device;
using report::PlannedWire;
using sheet::Anchor;
using sheet::Box;
using sheet::Spot;

Layout Drafting::planned() {
    place_source();
    place_taps();
    place_cts();
    place_load();
    place_low_rows();
    place_meter();
    for (auto const& wire : wiring_.wires) route(wire, Weight::lead);
    if (wiring_.block) place_block();
    layout_.height = bottom_ + 4.0;
    return layout_;
}

Layout Drafting::overlaid(std::vector<PlannedWire> const& wired) {
    planned();
    for (auto& route : layout_.routes)
        if (route.weight == Weight::lead) route.weight = Weight::light;
    layout_.width = width + 32.0;
    int move = 0, channel = 0;
    for (auto const& wire : wired) {
        if (is_planned(wire)) continue;
        Spot const to = pin(wire.to).in;
        add_route(wire, Weight::heavy, across(pin(wire.from).out, to, channel++));
        Spot const number{width + 16.0, to.y};
        layout_.shapes.push_back({ShapeKind::number, around(number, 11.0)});
        say({number.x, number.y + 5.0}, std::to_string(++move),
            {.size = 14.0, .anchor = Anchor::middle, .heavy = true});
    }
    return layout_;
}

void Drafting::add_route(PlannedWire const& wire, Weight weight, std::vector<Spot> corners) {
    // A corner that is where the last one was is no corner.
    auto const same = [](Spot a, Spot b) { return a.x == b.x && a.y == b.y; };
    corners.erase(std::unique(corners.begin(), corners.end(), same), corners.end());
    layout_.routes.push_back({wire.net, wire.number, wire.phase, weight, std::move(corners)});
}

bool Drafting::is_planned(PlannedWire const& wire) const {
    return std::ranges::any_of(wiring_.wires, [&](auto const& one) {
        return one.from.device == wire.from.device && one.from.key == wire.from.key &&
               one.to.device == wire.to.device && one.to.key == wire.to.key;
    });
}

void Drafting::place_earth(Device device, std::string const& key, Spot at, bool letters_left) {
    put_pin(device, key, at);
    layout_.shapes.push_back({ShapeKind::earth, {at.x - 10, at.y, at.x + 10, at.y + 9}});
    say({letters_left ? at.x - 15 : at.x + 15, at.y + 9}, wiring_.earth_letters,
        {.size = small, .anchor = letters_left ? Anchor::end : Anchor::start, .heavy = true});
}

void Drafting::place_load() {
    line_bottom_ = next_row_ + 42.0;
    for (std::size_t k = 0; k < wiring_.conductors.size(); ++k) {
        auto const& one = wiring_.conductors[k];
        double const x = x_of(k);
        layout_.routes.push_back({"conductor " + std::to_string(k),
                                  0,
                                  one.phase,
                                  Weight::conductor,
                                  {{x, line_top_}, {x, line_bottom_}}});
        say({x, line_bottom_ + 20}, one.letter, {.size = 17.0, .anchor = Anchor::middle, .heavy = true});
        if (!one.branch.empty())
            say({x, line_bottom_ + 36}, sheet::shortened(one.branch, small, 70.0),
                {.size = small, .anchor = Anchor::middle});
    }
    double const y = line_bottom_ + 58.0;
    say({0, y}, "To the load", {.size = 15.0, .heavy = true});
    // Two lines at most, broken at a word.
    auto rest = wiring_.load_words;
    bottom_ = y + 6.0;
    for (int line = 1; line <= 3 && !rest.empty(); ++line) {
        auto cut = rest.size();
        while (cut > 0 && sheet::text_width(rest.substr(0, cut), small) > 285.0) {
            auto const space = rest.rfind(' ', cut - 1);
            cut = space == std::string::npos ? 0 : space;
        }
        if (cut == 0 || line == 3) cut = rest.size();
        say({0, y + 18.0 * line}, sheet::shortened(rest.substr(0, cut), small, 290.0), {.size = small});
        bottom_ = y + 18.0 * line + 6.0;
        rest = cut < rest.size() ? rest.substr(cut + 1) : "";
    }
}

void Drafting::place_low_rows() {
    double y = next_row_ + (wiring_.earthed_at_block ? 74.0 : 46.0);
    if (wiring_.earthed_at_block) place_block_earth();
    if (wiring_.supply) y = place_origin(*wiring_.supply, Device::supply, 's', y) + 14.0;
    if (!wiring_.fed_from_voltages.empty()) {
        say({origin_left, y + 4}, sheet::shortened(wiring_.fed_from_voltages, tiny, 250.0), {.size = tiny});
        y += 26.0;
    }
    if (wiring_.bus) y = place_origin(*wiring_.bus, Device::bus, 'b', y) + 14.0;
    for (auto const& row : wiring_.rows) {
        if (row.key != "e") continue;
        y += 8.0;
        rows_["e"] = y;
        place_earth(Device::earth, "meter", {origin_right - 30, y + 9});
        y += 18.0;
    }
    next_row_ = y;
    bottom_ = std::max(bottom_, y + 12.0);
}

void Drafting::place_block_earth() {
    double foot = 0.0;
    for (auto const& wire : wiring_.wires)
        if (wire.to.device == Device::block && wire.from.device == Device::ct)
            foot = std::max(foot, pin(wire.to).in.y);
    place_earth(Device::earth, "block", {block_bus, foot + 34.0});
    say({block_bus + 44, foot + 43.0}, "one point", {.size = tiny});
}

// What is left of its pins' words.
double Drafting::room_in_origin(Device device, std::vector<std::string> const& keys) const {
    double widest = 0.0;
    for (auto const& wire : wiring_.wires)
        if (wire.from.device == device && std::ranges::find(keys, wire.from.key) != keys.end())
            widest = std::max(widest, std::min(54.0, sheet::text_width(wire.from.terminal, tiny)));
    return origin_right - origin_left - 8.0 - widest - 14.0;
}

double Drafting::place_origin(report::Origin const& origin, Device device, char letter, double top) {
    std::vector<std::string> keys;
    for (auto const& row : wiring_.rows)
        if (row.key.front() == letter && row.key.size() == 2) keys.push_back(row.key);
    double const room = room_in_origin(device, keys);
    auto title = broken(origin.title, small * 1.06, room);
    if (title.size() > 2) {
        title.resize(2);
        title.back() = sheet::shortened(title.back() + " \u2026", small * 1.06, room);
    }
    double const words = 11.0 + 17.0 * static_cast<double>(origin.lines.size() + title.size());
    double const needed = low_pitch * static_cast<double>(keys.size());
    double const height = std::max(words, needed);
    Box const box{origin_left, top, origin_right, top + height};
    layout_.shapes.push_back({ShapeKind::frame, box});
    double y = top + 18;
    for (auto const& line : title) {
        say({box.left + 8, y}, line, {.size = small, .heavy = true});
        y += 17.0;
    }
    for (auto const& line : origin.lines) {
        if (line.empty())
            blank(box.left + 8, box.left + room, y);
        else
            say({box.left + 8, y}, sheet::shortened(line, tiny, room), {.size = tiny});
        y += 17.0;
    }
    double row = top + height / 2.0 - low_pitch * (static_cast<double>(keys.size()) - 1.0) / 2.0;
    for (auto const& key : keys) {
        rows_[key] = row;
        put_pin(device, key, {box.right, row});
        layout_.shapes.push_back({ShapeKind::terminal, around({box.right, row}, 4.6)});
        for (auto const& wire : wiring_.wires)
            if (wire.from.device == device && wire.from.key == key && !wire.from.terminal.empty()) {
                say({box.right - 8, row + 4}, sheet::shortened(wire.from.terminal, tiny, 54.0),
                    {.size = tiny, .anchor = Anchor::end});
                break;
            }
        row += low_pitch;
    }
    return top + height;
}

void Drafting::place_meter() {
    double const top = std::max(44.0, first_row_ - 88.0);
    double const foot = next_row_ + 6.0;
    layout_.shapes.push_back({ShapeKind::frame, {meter_left, top, meter_right, foot}});
    double const x = meter_left + 14.0, room = meter_right - x - 10.0;
    say({x, top + 23},
        sheet::shortened(wiring_.meter_name.empty() ? "Meter" : wiring_.meter_name, 16.0, room),
        {.size = 16.0, .heavy = true});
    say({x, top + 41},
        wiring_.meter_serial.empty() ? "no." : sheet::shortened("no. " + wiring_.meter_serial, small, room),
        {.size = small});
    if (wiring_.meter_serial.empty()) blank(x + 26, meter_right - 12, top + 42);
    say({x, top + 58}, sheet::shortened(wiring_.meter_set, small, room), {.size = small});
    for (auto const& row : wiring_.rows) {
        double const y = rows_[row.key];
        Spot const at{meter_left, y};
        put_pin(Device::meter, row.key, at);
        layout_.shapes.push_back({ShapeKind::terminal, around(at, 5.0)});
        if (row.terminal.empty())
            blank(x, x + 48, y + 6);
        else
            say({x, y + 5}, sheet::shortened(row.terminal, 14.0, 54.0),
                {.size = 15.0, .heavy = true, .even = true});
        bool const ours = !wiring_.terminals_known && !row.terminal.empty();
        say({x + 62, y + 5}, sheet::shortened(row.says, small, ours ? 50.0 : 100.0), {.size = small});
        if (ours) blank(meter_right - 46, meter_right - 8, y + 6);
    }
    bottom_ = std::max(bottom_, foot);
}

// From one row to another. Every such lead has an upright of its own on the left, one on the right, and a
// level of its own between them; so two that change places never run along each other.
std::vector<Spot> Drafting::across(Spot from, Spot to, int channel) {
    double const left = first_channel + 5.0 * channel, right = last_channel - 5.0 * channel;
    double const level = std::min(from.y, to.y) + 8.0 + 6.0 * channel;
    return {from, {left, from.y}, {left, level}, {right, level}, {right, to.y}, to};
}

// Level where both ends stand in one row; else over an upright of its own.
void Drafting::route(PlannedWire const& wire, Weight weight) {
    Spot const from = pin(wire.from).out, to = pin(wire.to).in;
    if (wire.to.device == Device::earth && wire.from.device == Device::block) {
        Spot const bus{block_bus, pin(wire.from).in.y};
        dot(bus);
        add_route(wire, weight, {bus, {block_bus, to.y}});
        number({block_bus + 5, to.y - 4}, wire, Anchor::start);
    } else if (wire.to.device == Device::earth) {
        dot({to.x, from.y});
        add_route(wire, weight, {from, {to.x, from.y}, to});
    } else if (wire.from.device == Device::earth) {
        double const y = rows_["e"];
        add_route(wire, weight, {from, {from.x, y}, {meter_left, y}});
        number({meter_left - 8, y - 5}, wire, Anchor::end);
    } else if (wire.from.device == wire.to.device) {
        link(wire, weight);
    } else {
        if (from.y == to.y)
            add_route(wire, weight, {from, to});
        else
            add_route(wire, weight, across(from, to, channels_++));
        double const clear = wire.to.device == Device::meter || wire.to.device == Device::block ? 8.0 : 5.0;
        number({to.x - clear, to.y - 5}, wire, Anchor::end);
    }
}

void Drafting::link(PlannedWire const& wire, Weight weight) {
    bool const in_block = wire.from.device == Device::block, at_ct = wire.from.device == Device::ct;
    double const x = in_block ? block_bus : at_ct ? ct_link : meter_link;
    Spot const a = in_block || !at_ct ? pin(wire.from).in : pin(wire.from).out;
    Spot const b = in_block || !at_ct ? pin(wire.to).in : pin(wire.to).out;
    if (in_block)
        add_route(wire, weight, {{x, a.y}, {x, b.y}});
    else
        add_route(wire, weight, {a, {x, a.y}, {x, b.y}, b});
    dot({x, a.y});
    dot({x, b.y});
    bool const left = wire.from.device == Device::meter;
    number({left ? x - 5 : x + 5, a.y + 20}, wire, left ? Anchor::end : Anchor::start);
}

void Drafting::number(Spot at, PlannedWire const& wire, Anchor anchor) {
    say(at, std::to_string(wire.number), {.size = tiny, .anchor = anchor});
}

Layout wiring_layout(report::PointWiring const& wiring, std::vector<PlannedWire> const* wired) {
    Drafting drafting(wiring);
    return wired == nullptr ? drafting.planned() : drafting.overlaid(*wired);
}

}  // namespace phasewright::drawing
