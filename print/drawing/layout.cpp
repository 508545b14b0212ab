#include "print/drawing/layout.hpp"

#include <algorithm>
#include <cmath>

namespace phasewright::drawing {

namespace {

using sheet::Box;
using sheet::Drawing;
using sheet::Pattern;
using sheet::Spot;
using sheet::Stroke;

constexpr double neutral_gap = 1.8;  // from the middle of a double line to each of the two

double width_of(Route const& route) {
    switch (route.weight) {
        case Weight::conductor: return route.phase == 3 ? 1.2 : 3.2;
        case Weight::lead: return route.phase == 3 ? 0.9 : 1.5;
        case Weight::light:
        case Weight::dotted: return 0.9;
        case Weight::heavy: return 4.0;
    }
    return 1.5;
}

void draw_route(Drawing& drawing, Route const& route) {
    Stroke stroke{.width = width_of(route)};
    if (route.weight == Weight::dotted)
        stroke = {.width = 1.8, .pattern = Pattern::dotted};
    else if (route.phase >= 0 && route.phase < 3 && route.weight != Weight::heavy)
        stroke.pattern = sheet::pattern_of_phase(static_cast<std::size_t>(route.phase));
    bool const twice = route.phase == 3 && route.weight != Weight::heavy;
    for (std::size_t k = 1; k < route.corners.size(); ++k) {
        Spot const a = route.corners[k - 1], b = route.corners[k];
        if (!twice) {
            draw_line(drawing, a, b, stroke);
            continue;
        }
        bool const level = a.y == b.y;
        for (double const side : {-neutral_gap, neutral_gap}) {
            double const dx = level ? 0.0 : side, dy = level ? side : 0.0;
            draw_line(drawing, {a.x + dx, a.y + dy}, {b.x + dx, b.y + dy}, stroke);
        }
    }
}

Spot middle(Box const& box) { return {(box.left + box.right) / 2.0, (box.top + box.bottom) / 2.0}; }

// Three bars, each shorter than the one above.
void draw_earth(Drawing& drawing, Box const& box) {
    double const x = middle(box).x, half = (box.right - box.left) / 2.0, step = (box.bottom - box.top) / 2.0;
    for (int k = 0; k < 3; ++k) {
        double const reach = half * (1.0 - 0.32 * k);
        double const y = box.top + step * k;
        draw_line(drawing, {x - reach, y}, {x + reach, y}, {.width = 1.8});
    }
}

void draw_shape(Drawing& drawing, Shape const& shape) {
    double const radius = (shape.box.right - shape.box.left) / 2.0;
    switch (shape.kind) {
        case ShapeKind::ring: draw_ring(drawing, middle(shape.box), radius, 2.2); break;
        case ShapeKind::frame: draw_frame(drawing, shape.box, {.width = 1.2}); break;
        case ShapeKind::breaker: draw_frame(drawing, shape.box, {.width = 1.8}); break;
        case ShapeKind::fuse: draw_frame(drawing, shape.box, {.width = 1.5}); break;
        case ShapeKind::dot: draw_ring(drawing, middle(shape.box), radius, 1.0, sheet::RingFill::ink); break;
        case ShapeKind::terminal:
            draw_ring(drawing, middle(shape.box), radius, 1.4, sheet::RingFill::ground);
            break;
        case ShapeKind::earth: draw_earth(drawing, shape.box); break;
        case ShapeKind::contact: draw_solid(drawing, shape.box); break;
        case ShapeKind::blank:
            draw_line(drawing, {shape.box.left, shape.box.bottom}, {shape.box.right, shape.box.bottom},
                      {.width = 0.7});
            break;
        case ShapeKind::number: draw_ring(drawing, middle(shape.box), radius, 1.6); break;
    }
}

struct Stretch {
    bool level = true;
    double at = 0.0, from = 0.0, to = 0.0;
};

std::vector<Stretch> stretches(Route const& route) {
    std::vector<Stretch> all;
    for (std::size_t k = 1; k < route.corners.size(); ++k) {
        Spot const a = route.corners[k - 1], b = route.corners[k];
        bool const level = a.y == b.y;
        all.push_back({level, level ? a.y : a.x, level ? std::min(a.x, b.x) : std::min(a.y, b.y),
                       level ? std::max(a.x, b.x) : std::max(a.y, b.y)});
    }
    return all;
}

// Nearer to each other than a pen is wide counts as the same line.
bool along(Route const& one, Route const& other) {
    constexpr double pen = 3.0;
    for (auto const& a : stretches(one))
        for (auto const& b : stretches(other))
            if (a.level == b.level && std::abs(a.at - b.at) < pen &&
                std::min(a.to, b.to) - std::max(a.from, b.from) > 0.5)
                return true;
    return false;
}

}  // namespace

Drawing drawn(Layout const& layout) {
    Drawing drawing{.width = layout.width, .height = layout.height};
    for (auto const& route : layout.routes) draw_route(drawing, route);
    for (auto const& shape : layout.shapes) draw_shape(drawing, shape);
    for (auto const& words : layout.words) draw_text(drawing, words.at, words.text, words.letters);
    return drawing;
}

int nets_along_each_other(Layout const& layout) {
    int count = 0;
    for (std::size_t k = 0; k < layout.routes.size(); ++k)
        for (std::size_t other = 0; other < k; ++other) {
            auto const& a = layout.routes[k];
            auto const& b = layout.routes[other];
            bool const layers = (a.weight == Weight::heavy) != (b.weight == Weight::heavy);
            if (a.net != b.net && !layers && along(a, b)) ++count;
        }
    return count;
}

int slanting(Layout const& layout) {
    int count = 0;
    for (auto const& route : layout.routes)
        for (std::size_t k = 1; k < route.corners.size(); ++k) {
            Spot const a = route.corners[k - 1], b = route.corners[k];
            if (a.x != b.x && a.y != b.y) ++count;
        }
    return count;
}

}  // namespace phasewright::drawing
