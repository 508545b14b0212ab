// A wiring drawing as a value: pins of devices, routes between them, words. Routes run at right angles only;
// a route knows its net, so it can be said that no two nets share a stretch of paper, and that a screen can
// lay another net list over this one. Units are quarter millimetres on paper.
#pragma once
#include <string>
#include <vector>

#include "core/report/plan_wiring.hpp"
#include "print/sheet/svg.hpp"

namespace phasewright::drawing {

enum class Weight {
    conductor,
    lead,
    light,
    heavy,
    dotted
};  // light: as planned, where something else lies over it

struct Route {
    std::string net;
    int wire = 0;    // its number in the list; 0 inside a device
    int phase = -1;  // 0 to 2 patterns of the phases, 3 the neutral's double line, -1 plain
    Weight weight = Weight::lead;
    std::vector<sheet::Spot> corners;
};

enum class ShapeKind { ring, frame, fuse, breaker, dot, terminal, earth, contact, blank, number };
struct Shape {
    ShapeKind kind = ShapeKind::frame;
    sheet::Box box;
};

struct Words {
    sheet::Spot at;
    std::string text;
    sheet::Letters letters;
};

struct Layout {
    double width = 0.0, height = 0.0;
    std::vector<Route> routes;
    std::vector<Shape> shapes;
    std::vector<Words> words;
};

// `wired` is how the leads are believed to run: where it differs from the plan, the plan turns light, the
// wrong lead is heavy, and every move has a number at its terminal.
[[nodiscard]] Layout wiring_layout(report::PointWiring const& wiring,
                                   std::vector<report::PlannedWire> const* wired = nullptr);

[[nodiscard]] sheet::Drawing drawn(Layout const& layout);

// Pairs of routes of different nets that run along each other for a stretch; routes of different layers may.
[[nodiscard]] int nets_along_each_other(Layout const& layout);
// Stretches that are neither level nor upright.
[[nodiscard]] int slanting(Layout const& layout);

}  // namespace phasewright::drawing
