// Columns, left to right as the signal flows: conductors, CTs on them, fuses or block, meter. Rows, top to bottom as the
// energy flows: source, breaker, taps, CTs, load. The meter's terminals set the rows, and everything that leads to a terminal
// stands in its row: no lead of the plan has a bend but where something is linked.
#include <algorithm>
#include <map>

#include "core/quantity/text.hpp"
#include "print/drawing/layout.hpp"
#include "print/drawing/page.hpp"

namespace phasewright::drawing {

namespace {

using report::Device;
using report::Joint;
using report::PlannedWire;
using report::PointWiring;
using sheet::Anchor;
using sheet::Box;
using sheet::Letters;
using sheet::Spot;

constexpr double width = 744.0;
constexpr double first_conductor = 72.0, conductor_pitch = 74.0;
constexpr double fuse_left = 320.0, fuse_right = 350.0;
constexpr double block_left = 376.0, block_right = 468.0, block_bus = 394.0, block_short = 430.0;
constexpr double second_fuse_left = 494.0, second_fuse_right = 524.0;
constexpr double origin_left = 306.0, origin_right = 468.0;
constexpr double ct_link = 346.0, meter_link = 532.0, first_channel = 479.0, last_channel = 531.0;
constexpr double meter_left = 566.0, meter_right = width;
constexpr double tap_pitch = 32.0, ring = 24.0, half_pair = 18.0, ct_pitch = 92.0, low_pitch = 26.0;
constexpr double small = 13.0, tiny = 12.0;

struct Pin {
    Spot in, out;
};

Box around(Spot at, double half) { return {at.x - half, at.y - half, at.x + half, at.y + half}; }

class Drafting {
public:
    explicit Drafting(PointWiring const& wiring) : wiring_(wiring) { layout_.width = width; }

    Layout planned() {
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

    Layout overlaid(std::vector<PlannedWire> const& wired) {
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
            say({number.x, number.y + 5.0}, std::to_string(++move), {.size = 14.0, .anchor = Anchor::middle, .heavy = true});
        }
        return layout_;
    }

private:
    PointWiring const& wiring_;
    Layout layout_;
    std::map<std::string, Pin> pins_;
    std::map<std::string, double> rows_;
    double line_top_ = 108.0, line_bottom_ = 0.0, next_row_ = 0.0, bottom_ = 0.0, first_row_ = 0.0;
    int channels_ = 0;

    static std::string name_of(Device device, std::string const& key) {
        return std::to_string(static_cast<int>(device)) + ":" + key;
    }
    [[nodiscard]] Pin pin(Joint const& joint) const {
        auto const found = pins_.find(name_of(joint.device, joint.key));
        return found == pins_.end() ? Pin{} : found->second;
    }
    void put_pin(Device device, std::string const& key, Spot in, Spot out) { pins_[name_of(device, key)] = {in, out}; }
    void put_pin(Device device, std::string const& key, Spot at) { put_pin(device, key, at, at); }
    void say(Spot at, std::string text, Letters letters) { layout_.words.push_back({at, std::move(text), letters}); }
    void blank(double left, double right, double y) {
        layout_.shapes.push_back({ShapeKind::blank, {left, y - 1.0, right, y}});
    }
    void dot(Spot at) { layout_.shapes.push_back({ShapeKind::dot, around(at, 3.6)}); }
    [[nodiscard]] double x_of(std::size_t conductor) const {
        return first_conductor + conductor_pitch * static_cast<double>(conductor);
    }
    void add_route(PlannedWire const& wire, Weight weight, std::vector<Spot> corners) {
        // A corner that is where the last one was is no corner.
        auto const same = [](Spot a, Spot b) { return a.x == b.x && a.y == b.y; };
        corners.erase(std::unique(corners.begin(), corners.end(), same), corners.end());
        layout_.routes.push_back({wire.net, wire.number, wire.phase, weight, std::move(corners)});
    }
    [[nodiscard]] bool is_planned(PlannedWire const& wire) const {
        return std::ranges::any_of(wiring_.wires, [&](auto const& one) {
            return one.from.device == wire.from.device && one.from.key == wire.from.key &&
                   one.to.device == wire.to.device && one.to.key == wire.to.key;
        });
    }

    void place_source() {
        say({0, 14}, sheet::shortened(wiring_.from, 15.0, 540.0), {.size = 15.0, .heavy = true});
        say({0, 33}, sheet::shortened(wiring_.supply_words, small, 540.0), {.size = small});
        for (std::size_t k = 0; k < wiring_.conductors.size(); ++k) {
            auto const& one = wiring_.conductors[k];
            double const x = x_of(k);
            say({x, 66}, one.letter, {.size = 20.0, .anchor = Anchor::middle, .heavy = true});
            if (one.colour.empty())
                blank(x - 24, x + 24, 84);
            else
                say({x, 84}, sheet::shortened(one.colour, small, 70.0), {.size = small, .anchor = Anchor::middle});
            if (!one.note.empty())
                say({x, 100}, sheet::shortened(one.note, tiny, 70.0), {.size = tiny, .anchor = Anchor::middle});
        }
    }

    void place_breakers(double y) {
        double last = -1.0;
        for (std::size_t k = 0; k < wiring_.conductors.size(); ++k) {
            if (!wiring_.conductors[k].fed_through_breaker) continue;
            double const x = x_of(k);
            layout_.shapes.push_back({ShapeKind::breaker, {x - 11, y - 11, x + 11, y + 11}});
            if (last > 0.0 && !wiring_.branches)
                layout_.routes.push_back({"handle", 0, -1, Weight::dotted, {{last + 11, y}, {x - 11, y}}});
            last = x;
        }
        double const left = first_conductor - 16.0;
        if (wiring_.breaker_a)
            say({left, y + 5}, quantity::shortest(*wiring_.breaker_a) + " A", {.size = small, .anchor = Anchor::end});
        else
            blank(left - 44, left - 14, y + 6), say({left, y + 5}, "A", {.size = small, .anchor = Anchor::end});
    }

    void place_taps() {
        double y = line_top_ + 26.0;
        if (!wiring_.taps_before_breaker) {
            place_breakers(y);
            y += 44.0;
        } else {
            y += 8.0;
        }
        first_row_ = y;
        bool const vt = wiring_.vt_words.has_value();
        for (auto const& tap : wiring_.taps) {
            rows_[tap.key] = y;
            Spot const at{x_of(tap.conductor), y};
            put_pin(Device::conductor, tap.key, at);
            dot(at);
            if (tap.fused) place_fuse(Device::fuse, tap.key, fuse_left, fuse_right, tap, y);
            if (vt) put_pin(Device::vt, tap.key, {block_left, y}, {block_right, y});
            if (vt) place_vt_row(tap, y);
            y += tap_pitch;
        }
        double const last = y - tap_pitch;
        if (vt) place_vt(first_row_, last);
        place_fuse_words();
        next_row_ = last;
        if (wiring_.taps_before_breaker) {
            next_row_ += 34.0;
            place_breakers(next_row_);
            next_row_ -= 6.0;
        }
    }

    void place_fuse(Device device, std::string const& key, double left, double right, report::WiredTap const& tap, double y) {
        put_pin(device, key, {left, y}, {right, y});
        layout_.shapes.push_back({ShapeKind::fuse, {left, y - 6, right, y + 6}});
        for (auto const& wire : wiring_.wires)
            if (wire.to.device == device && wire.to.key == key)
                layout_.routes.push_back({wire.net, 0, tap.phase, Weight::lead, {{left, y}, {right, y}}});
    }

    void place_fuse_words() {
        auto const fused = std::ranges::find_if(wiring_.taps, [](auto const& tap) { return tap.fused; });
        if (fused == wiring_.taps.end()) return;
        double const y = rows_[fused->key] - 20.0, x = fuse_left - 18.0;
        if (!wiring_.fuse_words.empty()) {
            say({x, y}, sheet::shortened("fuses " + wiring_.fuse_words, small, 106.0), {.size = small});
            return;
        }
        say({x, y}, "fuses", {.size = small});
        blank(x + 41, x + 67, y + 2);
        say({x + 70, y}, "A", {.size = small});
    }

    void place_vt_row(report::WiredTap const& tap, double y) {
        auto const& letter = wiring_.conductors[tap.conductor].letter;
        say({block_left + 8, y + 4}, letter, {.size = tiny});
        say({block_right - 8, y + 4}, letter, {.size = tiny, .anchor = Anchor::end});
        for (auto const& wire : wiring_.wires)
            if (wire.to.device == Device::vt_fuse && wire.to.key == tap.key) {
                place_fuse(Device::vt_fuse, tap.key, second_fuse_left, second_fuse_right, tap, y);
                return;
            }
    }

    void place_vt(double first, double last) {
        layout_.shapes.push_back({ShapeKind::frame, {block_left, first - 15, block_right, last + 15}});
        double const x = (block_left + block_right) / 2.0;
        say({x, first - 21}, "VT", {.size = small, .anchor = Anchor::middle, .heavy = true});
        say({x, first + 20}, sheet::shortened(*wiring_.vt_words, tiny, 92.0), {.size = tiny, .anchor = Anchor::middle});
        if (last > first + tap_pitch)
            say({x, first + tap_pitch + 20}, wiring_.vt_connection, {.size = tiny, .anchor = Anchor::middle});
        for (auto const& wire : wiring_.wires)
            if (wire.to.device == Device::earth && wire.to.key == "vt") {
                place_earth(Device::earth, "vt", {second_fuse_right + 9, last + 20}, true);
            }
    }

    void place_earth(Device device, std::string const& key, Spot at, bool letters_left = false) {
        put_pin(device, key, at);
        layout_.shapes.push_back({ShapeKind::earth, {at.x - 10, at.y, at.x + 10, at.y + 9}});
        say({letters_left ? at.x - 15 : at.x + 15, at.y + 9}, wiring_.earth_letters,
            {.size = small, .anchor = letters_left ? Anchor::end : Anchor::start, .heavy = true});
    }

    void place_cts() {
        double const extra = wiring_.vt_words ? 38.0 : 0.0;
        double const words_y = next_row_ + 28.0 + extra;
        say({origin_left, words_y}, sheet::shortened("CTs " + wiring_.ct_words, small, 250.0), {.size = small});
        double y = words_y + (wiring_.block ? 66.0 : 46.0);
        for (auto const& ct : wiring_.cts) {
            place_ring(ct, {x_of(ct.conductor), y});
            y += ct_pitch;
        }
        next_row_ = y - ct_pitch + half_pair;
    }

    void place_ring(report::WiredCt const& ct, Spot at) {
        layout_.shapes.push_back({ShapeKind::ring, around(at, ring)});
        say({at.x - 7, at.y - ring - 6}, wiring_.primary_marks[0], {.size = 14.0, .anchor = Anchor::end, .heavy = true});
        say({at.x - 7, at.y + ring + 16}, wiring_.primary_marks[1], {.size = 14.0, .anchor = Anchor::end, .heavy = true});
        say({at.x - ring - 4, at.y + 4}, sheet::shortened(short_name(ct), tiny, 42.0), {.size = tiny, .anchor = Anchor::end});
        if (wiring_.arrow_to_load)
            say({at.x + 6, at.y + 4}, *wiring_.arrow_to_load ? "\u2193" : "\u2191", {.size = 14.0, .heavy = true});
        double const reach = 15.87;  // where the ring is at the height of the leads
        for (int side = 0; side < 2; ++side) {
            double const y = at.y + (side == 0 ? -half_pair : half_pair);
            std::string const key = ct.key + (side == 0 ? "s1" : "s2");
            rows_[key] = y;
            put_pin(Device::ct, key, {at.x + reach, y});
            say({at.x + ring + 4, side == 0 ? y - 5 : y + 15}, wiring_.secondary_marks[static_cast<std::size_t>(side)],
                {.size = 14.0, .heavy = true});
            put_pin(Device::block, key, {block_left, y}, {block_right, y});
        }
    }

    [[nodiscard]] std::string short_name(report::WiredCt const& ct) const {
        auto const& conductor = wiring_.conductors[ct.conductor];
        return "CT " + (wiring_.branches ? conductor.branch : conductor.letter);
    }

    void place_block() {
        double top = 0.0, foot = 0.0;
        std::map<std::string, bool> seen;
        for (auto const& wire : wiring_.wires) {
            if (wire.to.device != Device::block || wire.from.device != Device::ct) continue;
            double const y = pin(wire.to).in.y;
            top = seen.empty() ? y : std::min(top, y);
            foot = std::max(foot, y);
            seen[wire.to.key] = true;
            add_route({.net = wire.net, .phase = wire.phase}, Weight::lead, {{block_left, y}, {block_right, y}});
            for (double const x : {block_left, block_right})
                layout_.shapes.push_back({ShapeKind::terminal, around({x, y}, 4.6)});
            say({block_left + 6, y - 6}, wire.to.terminal, {.size = tiny, .heavy = true, .even = true});
            say({block_right - 6, y - 6}, wire.to.terminal, {.size = tiny, .anchor = Anchor::end, .heavy = true, .even = true});
        }
        layout_.shapes.push_back({ShapeKind::frame, {block_left, top - 22, block_right, foot + 14}});
        say({(block_left + block_right) / 2.0, top - 29}, wiring_.block_title, {.size = small, .anchor = Anchor::middle});
        place_shorts(foot);
    }

    // One link over each pair; with a common return, one over all.
    void place_shorts(double foot) {
        for (std::size_t k = 0; k < wiring_.cts.size(); ++k) {
            double const from = rows_[wiring_.cts[k].key + "s1"];
            double const to = wiring_.common_return ? foot : rows_[wiring_.cts[k].key + "s2"];
            for (double const y : {from, to}) layout_.shapes.push_back({ShapeKind::contact, around({block_short, y}, 3.2)});
            if (!wiring_.common_return || k == 0)
                layout_.routes.push_back({"short " + std::to_string(k), 0, -1, Weight::dotted,
                                          {{block_short, from + 4}, {block_short, to - 4}}});
        }
    }

    void place_load() {
        line_bottom_ = next_row_ + 42.0;
        for (std::size_t k = 0; k < wiring_.conductors.size(); ++k) {
            auto const& one = wiring_.conductors[k];
            double const x = x_of(k);
            layout_.routes.push_back({"conductor " + std::to_string(k), 0, one.phase, Weight::conductor,
                                      {{x, line_top_}, {x, line_bottom_}}});
            say({x, line_bottom_ + 20}, one.letter, {.size = 17.0, .anchor = Anchor::middle, .heavy = true});
            if (!one.branch.empty())
                say({x, line_bottom_ + 36}, sheet::shortened(one.branch, small, 70.0), {.size = small, .anchor = Anchor::middle});
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

    void place_low_rows() {
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

    void place_block_earth() {
        double foot = 0.0;
        for (auto const& wire : wiring_.wires)
            if (wire.to.device == Device::block && wire.from.device == Device::ct) foot = std::max(foot, pin(wire.to).in.y);
        place_earth(Device::earth, "block", {block_bus, foot + 34.0});
        say({block_bus + 44, foot + 43.0}, "one point", {.size = tiny});
    }

    // What is left of its pins' words.
    [[nodiscard]] double room_in_origin(Device device, std::vector<std::string> const& keys) const {
        double widest = 0.0;
        for (auto const& wire : wiring_.wires)
            if (wire.from.device == device && std::ranges::find(keys, wire.from.key) != keys.end())
                widest = std::max(widest, std::min(54.0, sheet::text_width(wire.from.terminal, tiny)));
        return origin_right - origin_left - 8.0 - widest - 14.0;
    }

    double place_origin(report::Origin const& origin, Device device, char letter, double top) {
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

    void place_meter() {
        double const top = std::max(44.0, first_row_ - 88.0);
        double const foot = next_row_ + 6.0;
        layout_.shapes.push_back({ShapeKind::frame, {meter_left, top, meter_right, foot}});
        double const x = meter_left + 14.0, room = meter_right - x - 10.0;
        say({x, top + 23}, sheet::shortened(wiring_.meter_name.empty() ? "Meter" : wiring_.meter_name, 16.0, room),
            {.size = 16.0, .heavy = true});
        say({x, top + 41}, wiring_.meter_serial.empty() ? "no." : sheet::shortened("no. " + wiring_.meter_serial, small, room),
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
                say({x, y + 5}, sheet::shortened(row.terminal, 14.0, 54.0), {.size = 15.0, .heavy = true, .even = true});
            bool const ours = !wiring_.terminals_known && !row.terminal.empty();
            say({x + 62, y + 5}, sheet::shortened(row.says, small, ours ? 50.0 : 100.0), {.size = small});
            if (ours) blank(meter_right - 46, meter_right - 8, y + 6);
        }
        bottom_ = std::max(bottom_, foot);
    }

    // From one row to another. Every such lead has an upright of its own on the left, one on the right, and a level of its own
    // between them; so two that change places never run along each other.
    [[nodiscard]] static std::vector<Spot> across(Spot from, Spot to, int channel) {
        double const left = first_channel + 5.0 * channel, right = last_channel - 5.0 * channel;
        double const level = std::min(from.y, to.y) + 8.0 + 6.0 * channel;
        return {from, {left, from.y}, {left, level}, {right, level}, {right, to.y}, to};
    }

    // Level where both ends stand in one row; else over an upright of its own.
    void route(PlannedWire const& wire, Weight weight) {
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

    void link(PlannedWire const& wire, Weight weight) {
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

    void number(Spot at, PlannedWire const& wire, Anchor anchor) {
        say(at, std::to_string(wire.number), {.size = tiny, .anchor = anchor});
    }
};

}  // namespace

Layout wiring_layout(PointWiring const& wiring, std::vector<PlannedWire> const* wired) {
    Drafting drafting(wiring);
    return wired == nullptr ? drafting.planned() : drafting.overlaid(*wired);
}

}  // namespace phasewright::drawing
