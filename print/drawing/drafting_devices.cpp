// Source, breakers, taps with their fuses, voltage transformers, current transformers, the block.
#include <algorithm>

#include "core/quantity/text.hpp"
#include "print/drawing/drafting.hpp"

namespace phasewright::drawing {

using namespace place;
using report::Device;
using sheet::Anchor;
using sheet::Spot;

void Drafting::place_source() {
    say({0, 14}, sheet::shortened(wiring_.from, 15.0, 540.0), {.size = 15.0, .heavy = true});
    say({0, 33}, sheet::shortened(wiring_.supply_words, small, 540.0), {.size = small});
    for (std::size_t k = 0; k < wiring_.conductors.size(); ++k) {
        auto const& one = wiring_.conductors[k];
        double const x = x_of(k);
        say({x, 66}, one.letter, {.size = 20.0, .anchor = Anchor::middle, .heavy = true});
        if (one.colour.empty())
            blank(x - 24, x + 24, 84);
        else
            say({x, 84}, sheet::shortened(one.colour, small, 70.0),
                {.size = small, .anchor = Anchor::middle});
        if (!one.note.empty())
            say({x, 100}, sheet::shortened(one.note, tiny, 70.0), {.size = tiny, .anchor = Anchor::middle});
    }
}

void Drafting::place_breakers(double y) {
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
        say({left, y + 5}, quantity::shortest(*wiring_.breaker_a) + " A",
            {.size = small, .anchor = Anchor::end});
    else
        blank(left - 44, left - 14, y + 6), say({left, y + 5}, "A", {.size = small, .anchor = Anchor::end});
}

void Drafting::place_taps() {
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

void Drafting::place_fuse(Device device, std::string const& key, double left, double right,
                          report::WiredTap const& tap, double y) {
    put_pin(device, key, {left, y}, {right, y});
    layout_.shapes.push_back({ShapeKind::fuse, {left, y - 6, right, y + 6}});
    for (auto const& wire : wiring_.wires)
        if (wire.to.device == device && wire.to.key == key)
            layout_.routes.push_back({wire.net, 0, tap.phase, Weight::lead, {{left, y}, {right, y}}});
}

void Drafting::place_fuse_words() {
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

void Drafting::place_vt_row(report::WiredTap const& tap, double y) {
    auto const& letter = wiring_.conductors[tap.conductor].letter;
    say({block_left + 8, y + 4}, letter, {.size = tiny});
    say({block_right - 8, y + 4}, letter, {.size = tiny, .anchor = Anchor::end});
    for (auto const& wire : wiring_.wires)
        if (wire.to.device == Device::vt_fuse && wire.to.key == tap.key) {
            place_fuse(Device::vt_fuse, tap.key, second_fuse_left, second_fuse_right, tap, y);
            return;
        }
}

void Drafting::place_vt(double first, double last) {
    layout_.shapes.push_back({ShapeKind::frame, {block_left, first - 15, block_right, last + 15}});
    double const x = (block_left + block_right) / 2.0;
    say({x, first - 21}, "VT", {.size = small, .anchor = Anchor::middle, .heavy = true});
    say({x, first + 20}, sheet::shortened(*wiring_.vt_words, tiny, 92.0),
        {.size = tiny, .anchor = Anchor::middle});
    if (last > first + tap_pitch)
        say({x, first + tap_pitch + 20}, wiring_.vt_connection, {.size = tiny, .anchor = Anchor::middle});
    for (auto const& wire : wiring_.wires)
        if (wire.to.device == Device::earth && wire.to.key == "vt") {
            place_earth(Device::earth, "vt", {second_fuse_right + 9, last + 20}, true);
        }
}

void Drafting::place_cts() {
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

void Drafting::place_ring(report::WiredCt const& ct, Spot at) {
    layout_.shapes.push_back({ShapeKind::ring, around(at, ring)});
    say({at.x - 7, at.y - ring - 6}, wiring_.primary_marks[0],
        {.size = 14.0, .anchor = Anchor::end, .heavy = true});
    say({at.x - 7, at.y + ring + 16}, wiring_.primary_marks[1],
        {.size = 14.0, .anchor = Anchor::end, .heavy = true});
    say({at.x - ring - 4, at.y + 4}, sheet::shortened(short_name(ct), tiny, 42.0),
        {.size = tiny, .anchor = Anchor::end});
    if (wiring_.arrow_to_load)
        say({at.x + 6, at.y + 4}, *wiring_.arrow_to_load ? "\u2193" : "\u2191",
            {.size = 14.0, .heavy = true});
    double const reach = 15.87;  // where the ring is at the height of the leads
    for (int side = 0; side < 2; ++side) {
        double const y = at.y + (side == 0 ? -half_pair : half_pair);
        std::string const key = ct.key + (side == 0 ? "s1" : "s2");
        rows_[key] = y;
        put_pin(Device::ct, key, {at.x + reach, y});
        say({at.x + ring + 4, side == 0 ? y - 5 : y + 15},
            wiring_.secondary_marks[static_cast<std::size_t>(side)], {.size = 14.0, .heavy = true});
        put_pin(Device::block, key, {block_left, y}, {block_right, y});
    }
}

std::string Drafting::short_name(report::WiredCt const& ct) const {
    auto const& conductor = wiring_.conductors[ct.conductor];
    return "CT " + (wiring_.branches ? conductor.branch : conductor.letter);
}

void Drafting::place_block() {
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
        say({block_right - 6, y - 6}, wire.to.terminal,
            {.size = tiny, .anchor = Anchor::end, .heavy = true, .even = true});
    }
    layout_.shapes.push_back({ShapeKind::frame, {block_left, top - 22, block_right, foot + 14}});
    say({(block_left + block_right) / 2.0, top - 29}, wiring_.block_title,
        {.size = small, .anchor = Anchor::middle});
    place_shorts(foot);
}

// One link over each pair; with a common return, one over all.
void Drafting::place_shorts(double foot) {
    for (std::size_t k = 0; k < wiring_.cts.size(); ++k) {
        double const from = rows_[wiring_.cts[k].key + "s1"];
        double const to = wiring_.common_return ? foot : rows_[wiring_.cts[k].key + "s2"];
        for (double const y : {from, to})
            layout_.shapes.push_back({ShapeKind::contact, around({block_short, y}, 3.2)});
        if (!wiring_.common_return || k == 0)
            layout_.routes.push_back({"short " + std::to_string(k),
                                      0,
                                      -1,
                                      Weight::dotted,
                                      {{block_short, from + 4}, {block_short, to - 4}}});
    }
}

}  // namespace phasewright::drawing
