// The drafting table of a wiring drawing: pins of devices, and what is put around them. wiring_layout.cpp
// says in which order; drafting_devices.cpp puts the devices on the conductors.
#pragma once
#include <map>
#include <string>
#include <vector>

#include "print/drawing/layout.hpp"

namespace phasewright::drawing {

// Columns and distances, in quarter millimetres.
namespace place {
inline constexpr double width = 744.0;
inline constexpr double first_conductor = 72.0, conductor_pitch = 74.0;
inline constexpr double fuse_left = 320.0, fuse_right = 350.0;
inline constexpr double block_left = 376.0, block_right = 468.0, block_bus = 394.0, block_short = 430.0;
inline constexpr double second_fuse_left = 494.0, second_fuse_right = 524.0;
inline constexpr double origin_left = 306.0, origin_right = 468.0;
inline constexpr double ct_link = 346.0, meter_link = 532.0, first_channel = 479.0, last_channel = 531.0;
inline constexpr double meter_left = 566.0, meter_right = width;
inline constexpr double tap_pitch = 32.0, ring = 24.0, half_pair = 18.0, ct_pitch = 92.0, low_pitch = 26.0;
inline constexpr double small = 13.0, tiny = 12.0;
}  // namespace place

// Where a wire ends on a terminal, and where one begins.
struct Pin {
    sheet::Spot in, out;
};

class Drafting {
public:
    explicit Drafting(report::PointWiring const& wiring) : wiring_(wiring) { layout_.width = place::width; }

    Layout planned();
    Layout overlaid(std::vector<report::PlannedWire> const& wired);

private:
    report::PointWiring const& wiring_;
    Layout layout_;
    std::map<std::string, Pin> pins_;
    std::map<std::string, double> rows_;
    double line_top_ = 108.0, line_bottom_ = 0.0, next_row_ = 0.0, bottom_ = 0.0, first_row_ = 0.0;
    int channels_ = 0;

    static sheet::Box around(sheet::Spot at, double half) {
        return {at.x - half, at.y - half, at.x + half, at.y + half};
    }
    static std::string name_of(report::Device device, std::string const& key) {
        return std::to_string(static_cast<int>(device)) + ":" + key;
    }
    [[nodiscard]] Pin pin(report::Joint const& joint) const {
        auto const found = pins_.find(name_of(joint.device, joint.key));
        return found == pins_.end() ? Pin{} : found->second;
    }
    void put_pin(report::Device device, std::string const& key, sheet::Spot in, sheet::Spot out) {
        pins_[name_of(device, key)] = {in, out};
    }
    void put_pin(report::Device device, std::string const& key, sheet::Spot at) {
        put_pin(device, key, at, at);
    }
    void say(sheet::Spot at, std::string text, sheet::Letters letters) {
        layout_.words.push_back({at, std::move(text), letters});
    }
    void blank(double left, double right, double y) {
        layout_.shapes.push_back({ShapeKind::blank, {left, y - 1.0, right, y}});
    }
    void dot(sheet::Spot at) { layout_.shapes.push_back({ShapeKind::dot, around(at, 3.6)}); }
    [[nodiscard]] double x_of(std::size_t conductor) const {
        return place::first_conductor + place::conductor_pitch * static_cast<double>(conductor);
    }
    void add_route(report::PlannedWire const& wire, Weight weight, std::vector<sheet::Spot> corners);
    [[nodiscard]] bool is_planned(report::PlannedWire const& wire) const;
    void place_source();
    void place_breakers(double y);
    void place_taps();
    void place_fuse(report::Device device, std::string const& key, double left, double right,
                    report::WiredTap const& tap, double y);
    void place_fuse_words();
    void place_vt_row(report::WiredTap const& tap, double y);
    void place_vt(double first, double last);
    void place_earth(report::Device device, std::string const& key, sheet::Spot at,
                     bool letters_left = false);
    void place_cts();
    void place_ring(report::WiredCt const& ct, sheet::Spot at);
    [[nodiscard]] std::string short_name(report::WiredCt const& ct) const;
    void place_block();
    // One link over each pair; with a common return, one over all.
    void place_shorts(double foot);
    void place_load();
    void place_low_rows();
    void place_block_earth();
    // What is left of its pins' words.
    [[nodiscard]] double room_in_origin(report::Device device, std::vector<std::string> const& keys) const;
    double place_origin(report::Origin const& origin, report::Device device, char letter, double top);
    void place_meter();
    // From one row to another. Every such lead has an upright of its own on the left, one on the right, and a
    // level of its own between them; so two that change places never run along each other.
    [[nodiscard]] static std::vector<sheet::Spot> across(sheet::Spot from, sheet::Spot to, int channel);
    // Level where both ends stand in one row; else over an upright of its own.
    void route(report::PlannedWire const& wire, Weight weight);
    void link(report::PlannedWire const& wire, Weight weight);
    void number(sheet::Spot at, report::PlannedWire const& wire, sheet::Anchor anchor);
};

}  // namespace phasewright::drawing
